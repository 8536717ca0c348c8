/** A tablet that lies about: after the idle time nothing of a patient is given out. */
import type { Browser, Page } from 'playwright-core';
import type { SetJson } from '../../src/browser/bedside/door.js';
import { openDoorIn, serveDoor, signIn } from '../setup/bedside-browser.js';
import type { InPage } from '../setup/bedside-browser.js';
import { describeInChromium, launchChromium } from '../setup/browser.js';
import { oxygen, registerPatient, setOf } from '../setup/example-sets.js';
import type { TestPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { registerPeople } from '../setup/people.js';
import type { Passwords } from '../setup/people.js';

const IDLE_MINUTES = 3;

describeInChromium('a tablet that nobody touches', () => {
  let gateway: TestGateway;
  let passwords: Passwords;
  let patient: TestPatient;
  let browser: Browser;

  beforeAll(async () => {
    const env = { BEDSIDE_IDLE_MINUTES: String(IDLE_MINUTES) };
    gateway = await openTestGateway(env, { localSignIn: true });
    passwords = await registerPeople(gateway);
    patient = await registerPatient(gateway, 'LF-20417', '1958-11-02');
    browser = await launchChromium();
  });
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });

  /** Hazel at the page, with something entered and a set that waits, and no network. */
  async function leftLying(): Promise<Page> {
    const context = await browser.newContext();
    await serveDoor(context);
    const page = await context.newPage();
    await signIn(page, { gateway, passwords }, 'hazel');
    await page.clock.install();
    await openDoorIn(page, gateway);
    await page.evaluate(async () => {
      const { door } = globalThis as InPage;
      await door.signedIn();
      await door.site();
    });
    await context.setOffline(true);
    await page.evaluate(
      async (set) => {
        const inPage = globalThis as InPage & { idle: number };
        inPage.idle = 0;
        inPage.door.forgetOnIdle(() => {
          inPage.idle += 1;
        });
        await inPage.door.draft.save({ of: 'Hazel' });
        void inPage.door.send(set as unknown as SetJson);
      },
      setOf(patient, [oxygen(96)]),
    );
    return page;
  }

  const shown = (page: Page) =>
    page.evaluate(async () => {
      const { door, idle } = globalThis as InPage & { idle: number };
      const [person, draft, mine] = [
        await door.signedIn(),
        await door.draft.load(),
        await door.outbox.mine(),
      ];
      return { idle, wasIdle: person?.wasIdle, draft, mine: mine.length };
    });

  it('shows what is entered as long as somebody touches it', async () => {
    const page = await leftLying();
    for (let minute = 0; minute < IDLE_MINUTES * 2; minute += 1) {
      await page.clock.fastForward('01:00');
      await page.keyboard.press('Tab');
    }
    expect(await shown(page)).toEqual({
      ...{ idle: 0, wasIdle: false, draft: { of: 'Hazel' }, mine: 1 },
    });
    await page.context().close();
  });

  it('gives nothing out after the idle time, not to a word nor after a reload, until the gateway says who is there', async () => {
    const page = await leftLying();
    await page.clock.fastForward(`0${IDLE_MINUTES}:02`);
    expect(await shown(page)).toEqual({ idle: 1, wasIdle: true, draft: null, mine: 0 });
    await page.evaluate(() => {
      (globalThis as InPage).door.confirmPerson();
    });
    // There is no network: that it is still the same person is her word alone.
    expect(await shown(page)).toEqual({ idle: 1, wasIdle: false, draft: null, mine: 0 });
    await page.context().setOffline(false);
    expect(await shown(page)).toMatchObject({ wasIdle: false, draft: { of: 'Hazel' } });
    await page.context().close();
  });

  it('is still idle after a reload', async () => {
    const page = await leftLying();
    await page.clock.fastForward(`0${IDLE_MINUTES}:02`);
    await openDoorIn(page, gateway);
    expect(await shown(page)).toMatchObject({ wasIdle: true, draft: null, mine: 0 });
    await page.context().close();
  });
});
