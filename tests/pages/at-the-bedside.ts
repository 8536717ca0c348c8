/** What hands do on the bedside page, for tests in a browser. */
import type { Browser, Locator, Page } from 'playwright-core';
import { signInAs } from '../setup/browser.js';
import type { TestGateway } from '../setup/gateway.js';
import type { DemoLogin, Passwords } from '../setup/people.js';

export const PHONE = { width: 360, height: 740 };
export const TABLET = { width: 800, height: 1280 };

export interface Bed {
  readonly page: Page;
  /** What the browser complained of: scripts that broke, policies that were run into. */
  readonly complaints: readonly string[];
  readonly button: (name: string | RegExp) => Locator;
  readonly press: (name: string | RegExp) => Promise<void>;
  /** Presses the page's own keys, a digit or a point each, and then the one that leads on. */
  readonly type: (digits: string, then?: string | RegExp) => Promise<void>;
  /** Chooses one word of a row. */
  readonly choose: (row: string, word: string) => Promise<void>;
  /** Waits until the answer to what was entered stands there. */
  readonly answered: () => Promise<void>;
  /** Lets the page's time go on, with everything that is due in it. */
  readonly pass: (ms: number) => Promise<void>;
}

/** The page as this person sees it on a device of that size; its clock is held by the test. */
export async function openBed(
  browser: Browser,
  place: { gateway: TestGateway; passwords: Passwords },
  login: DemoLogin,
  viewport = PHONE,
): Promise<Bed> {
  const page = await signInAs(browser, place, login, '/desk', {
    viewport,
    hasTouch: true,
    locale: 'en-GB',
  });
  const complaints: string[] = [];
  page.on('pageerror', ({ message }) => complaints.push(message));
  page.on('console', (message) => {
    if (message.type() === 'error') complaints.push(message.text());
  });
  page.setDefaultTimeout(20_000);
  await page.clock.install();
  await page.goto('/bedside');
  await page.getByRole('heading', { name: 'Who is it?' }).waitFor();
  return handsOn(page, complaints);
}

function handsOn(page: Page, complaints: readonly string[]): Bed {
  const button = (name: string | RegExp): Locator =>
    page.getByRole('button', { name, exact: true }).first();
  const press = (name: string | RegExp): Promise<void> => button(name).click();
  return {
    ...{ page, complaints, button, press },
    async type(digits, then = 'Done') {
      for (const digit of Array.from(digits)) {
        await press(digit === '.' ? 'Decimal point' : digit);
      }
      await press(then);
    },
    async choose(row, word) {
      await page
        .getByRole('group', { name: row, exact: true })
        .getByRole('button', { name: word, exact: true })
        .click();
    },
    async answered() {
      await page.getByText('Checking …').waitFor({ state: 'detached' });
      await page.getByText('Checked by the gateway').first().waitFor();
    },
    pass: (ms) => page.clock.runFor(ms),
  };
}

/** Looks the number up and confirms both identifiers by hand. */
export async function beginSet(bed: Bed, number: string): Promise<void> {
  await bed.page.getByLabel('Number on the wristband').fill(number);
  await bed.page.keyboard.press('Enter');
  const both = bed.page.locator('button.confirming');
  await both.first().click();
  await both.last().click();
  await bed.press('Begin the set');
}

/** Opens a sign from the list. */
export async function openSign(bed: Bed, name: string): Promise<void> {
  const list = bed.page.getByRole('heading', { name: 'The set', exact: true });
  if (!(await list.isVisible())) await bed.press('All signs');
  await bed.page
    .getByRole('button', { name: new RegExp(`^${name}`) })
    .filter({ visible: true })
    .first()
    .click();
}

/** Counts by taps, evenly, the first one starting the time. */
export async function tapCount(bed: Bed, taps: number, everyMs: number): Promise<void> {
  const place = bed.page.locator('.tap-place');
  await place.click();
  for (let done = 0; done < taps; done += 1) {
    await bed.pass(everyMs);
    await place.click();
  }
}
