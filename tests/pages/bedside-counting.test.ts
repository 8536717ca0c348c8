import type { Browser } from 'playwright-core';
import { describeInChromium, launchChromium } from '../setup/browser.js';
import { MRN, registerPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { registerPeople } from '../setup/people.js';
import type { Passwords } from '../setup/people.js';
import { beginSet, openBed, tapCount } from './at-the-bedside.js';
import type { Bed } from './at-the-bedside.js';

const NUMBER = 'COUNT-1';
const SITE = { PATIENT_IDENTIFIERS: `Hospital number=${MRN}` };

describeInChromium('counting at the bedside, by a clock that the test holds', () => {
  let gateway: TestGateway;
  let passwords: Passwords;
  let browser: Browser;
  let bed: Bed;

  beforeAll(async () => {
    gateway = await openTestGateway(SITE, { localSignIn: true });
    passwords = await registerPeople(gateway);
    browser = await launchChromium();
    await registerPatient(gateway, NUMBER);
  });
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });
  beforeEach(async () => {
    bed = await openBed(browser, { gateway, passwords }, 'tobias');
    await beginSet(bed, NUMBER);
    await bed.press('Next: Breaths');
    await bed.press('Count');
    await bed.page.clock.pauseAt(Date.now() + 60_000);
    // What the view does in the frame after it has opened, such as moving the focus, is done by then.
    await bed.pass(200);
  });
  afterEach(() => bed.page.context().close());

  const figures = (): Promise<string[]> => bed.page.locator('.figure').allTextContents();

  it('fills the lower half of the screen with the place to tap', async () => {
    const box = await bed.page.locator('.tap-place').boundingBox();
    expect(box?.width).toBeGreaterThan(320);
    expect(box?.height).toBeGreaterThan(370);
    expect((box?.y ?? 0) + (box?.height ?? 0)).toBeGreaterThan(720);
  });

  it('ends by itself after the time chosen, and does not take what is tapped then', async () => {
    await bed.press('15 s');
    await tapCount(bed, 4, 3_000);
    await bed.pass(500);
    expect(await figures()).toEqual(['3', '4']);
    await bed.pass(2_700);
    await bed.page.getByText('Time is up').waitFor();
    await bed.page.mouse.click(180, 600);
    await bed.pass(1_100);
    await bed.page.getByText('4 in 15 s × 4 = 16 a minute').waitFor();
  });

  it('takes the last tap back, and starts again', async () => {
    await tapCount(bed, 3, 2_000);
    await bed.pass(500);
    await bed.press('Take one back');
    expect(await figures()).toEqual(['24', '2']);
    await bed.press('Start again');
    expect(await figures()).toEqual(['30']);
  });

  it('goes on to a minute without losing what was counted', async () => {
    await tapCount(bed, 2, 5_000);
    await bed.press('Go on to 60 s');
    await bed.pass(45_000);
    await bed.page.locator('.tap-place').click();
    await bed.pass(5_000);
    await bed.pass(1_100);
    await bed.page.getByText('3 in 60 s = 3 a minute').waitFor();
  });

  it('is not moved by a clock that is set anew meanwhile', async () => {
    await tapCount(bed, 2, 5_000);
    await bed.page.clock.setSystemTime(Date.now() - 3_600_000);
    await bed.pass(500);
    await bed.page.locator('.tap-place').click();
    await bed.pass(19_000);
    expect(await figures()).toEqual(['1', '3']);
    await bed.pass(1_100);
    await bed.pass(1_100);
    await bed.page.getByText('3 in 30 s × 2 = 6 a minute').waitFor();
  });

  it('takes keys for taps, one for each press', async () => {
    await bed.page.locator('.tap-place').focus();
    await bed.page.keyboard.press('Space');
    for (const key of ['Space', 'Enter', 'Space']) {
      await bed.pass(1_000);
      await bed.page.keyboard.press(key);
    }
    expect((await figures())[1]).toBe('3');
  });

  it('takes a touch for one tap, not for two', async () => {
    const place = bed.page.locator('.tap-place');
    await place.tap();
    for (let done = 0; done < 3; done += 1) {
      await bed.pass(1_000);
      await place.tap();
    }
    expect((await figures())[1]).toBe('3');
  });

  it('says after a reload that the count was broken off, and has kept all else', async () => {
    await tapCount(bed, 4, 2_000);
    await bed.pass(500);
    await bed.page.clock.resume();
    await bed.page.reload();
    await bed.page.getByText('This count was broken off').waitFor();
    await bed.page.getByText('(4 so far)').waitFor();
    await bed.press('Start again');
    expect(await figures()).toEqual(['30']);
    await bed.press('Back');
    await bed.page.getByText('Aldous, Wren').waitFor();
  });

  it('says that a count was broken off when the page was out of sight', async () => {
    await tapCount(bed, 2, 2_000);
    await bed.page.evaluate(() => {
      Object.defineProperty(document, 'visibilityState', { value: 'hidden' });
      document.dispatchEvent(new Event('visibilitychange'));
    });
    await bed.page.getByText('The page was out of sight while you counted (2 so far)').waitFor();
  });

  it('offers a minute when the rhythm is irregular', async () => {
    await bed.press('15 s');
    await tapCount(bed, 4, 3_000);
    await bed.pass(3_000);
    await bed.pass(1_100);
    await bed.press('Take it');
    await bed.choose('Rhythm', 'irregular');
    await bed.press('Irregular: count a whole minute');
    expect(await figures()).toEqual(['60']);
  });
});
