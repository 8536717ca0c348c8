import type { Browser, Page } from 'playwright-core';
import {
  describeInChromium,
  expectNoViolationsInAnyLight,
  launchChromium,
  signInAs,
} from '../setup/browser.js';
import { openHeldWard } from '../setup/held-ward.js';
import type { HeldWard } from '../setup/held-ward.js';

const TABLET = { viewport: { width: 820, height: 1180 } };

describeInChromium('the desk in a browser', () => {
  let ward: HeldWard;
  let browser: Browser;

  beforeAll(async () => {
    ward = await openHeldWard();
    await ward.sendRareWeight();
    await ward.sendDisagreement();
    await ward.sendDisagreement(78);
    browser = await launchChromium();
  });
  afterAll(async () => {
    await browser.close();
    await ward.gateway.close();
  });

  const open = (login: 'ines' | 'rafe', path: string, options = {}): Promise<Page> =>
    signInAs(browser, ward, login, path, options);

  async function decide(page: Page, action: string, reason: string): Promise<void> {
    await page.getByRole('radio', { name: new RegExp(`^${action}`) }).check();
    await page.getByLabel('Reason', { exact: true }).selectOption('confirmed-at-bedside');
    await page.getByLabel('In a sentence').fill(reason);
    await page.getByRole('button', { name: 'Decide', exact: true }).click();
  }

  it('lists what is held, the critical first, and reads well in any light and width', async () => {
    const page = await open('ines', '/desk');
    const first = page.locator('table.held tbody tr').first();
    expect(await first.textContent()).toMatch(/Critical.*Blood pressure/);
    await expectNoViolationsInAnyLight(page);
    await page.setViewportSize(TABLET.viewport);
    await expectNoViolationsInAnyLight(page);
    // The page itself never scrolls sideways: the table does.
    const overflow = await page.evaluate(
      () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
    );
    expect(overflow).toBe(0);
    await page.context().close();
  });

  it('shows a critical reading as it arrives, and first', async () => {
    const page = await open('ines', '/desk');
    await page.getByText('· live').waitFor();
    const [id] = await ward.sendDisagreement(72);
    await page.locator(`tr.critical[data-reading="${id}"]`).waitFor();
    expect(await page.getByRole('status').textContent()).toContain('critical reading');
    await page.context().close();
  });

  it('moves nothing under a hand: with a reading marked the news waits', async () => {
    const page = await open('ines', '/desk');
    await page.getByText('· live').waitFor();
    const mark = page.getByRole('checkbox').last();
    await mark.check();
    const id = await ward.sendRareWeight();
    await page.getByRole('button', { name: 'Show', exact: true }).last().waitFor();
    await page.locator('#news button').waitFor();
    expect(await page.locator(`[data-reading="${id}"]`).count()).toBe(0);
    await page.locator('#news button').click();
    await page.locator(`[data-reading="${id}"]`).waitFor();
    expect(await page.locator('table.held input:checked').count()).toBe(1);
    await page.context().close();
  });

  it('is worked by keys', async () => {
    const page = await open('ines', '/desk');
    const links = page.locator('.reading-link');
    await links.first().focus();
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('x');
    expect(await page.locator('table.held tbody tr').nth(1).getByRole('checkbox').isChecked()).toBe(
      true,
    );
    await page.keyboard.press('ArrowUp');
    await page.keyboard.press('Enter');
    await page.waitForURL(/\/desk\/readings\//);
    await page.context().close();
  });

  it('shows one reading with all that belongs to it', async () => {
    const page = await open('ines', '/desk');
    await page.locator('.reading-link').first().click();
    for (const heading of [
      'What it is',
      'What the rules said',
      'Your decision',
      'The set it came with',
      'What was sent, and what was made of it',
      'Versions and decisions',
    ]) {
      await page.getByRole('heading', { name: heading }).waitFor();
    }
    expect(await page.locator('pre.sent mark').count()).toBeGreaterThan(3);
    expect(await page.locator('svg.chart').count()).toBe(1);
    await expectNoViolationsInAnyLight(page);
    await page.setViewportSize(TABLET.viewport);
    await expectNoViolationsInAnyLight(page);
    await page.context().close();
  });

  it('carries a decision out, and tells a second analyst what the first one did', async () => {
    const id = await ward.sendRareWeight();
    const first = await open('ines', `/desk/readings/${id}`);
    const second = await open('rafe', `/desk/readings/${id}`);
    await decide(first, 'Release', 'Weighed again on the ward scale');
    await first.getByText('released it').first().waitFor();
    await decide(second, 'Reject', 'Surely a slip');
    const alert = second.getByRole('alert');
    await alert.waitFor();
    expect(await alert.textContent()).toMatch(/Not done.*A-207 released it.*Weighed again/s);
    expect(await second.getByLabel('In a sentence').inputValue()).toBe('Surely a slip');
    await expectNoViolationsInAnyLight(second);
    await first.context().close();
    await second.context().close();
  });

  it('corrects a value in place', async () => {
    const id = await ward.sendRareWeight();
    const page = await open('ines', `/desk/readings/${id}`);
    await page.getByText('Another value, or another patient').click();
    await page.getByLabel('Value', { exact: true }).fill('84.6');
    await decide(page, 'Correct', 'One digit too many');
    await page.getByText('corrected it').first().waitFor();
    expect(await page.getByRole('heading', { level: 1 }).textContent()).toMatch(/84\.6\skg/);
    await page.context().close();
  });

  it('says so when the session has ended, and nothing is done', async () => {
    const id = await ward.sendRareWeight();
    const page = await open('ines', `/desk/readings/${id}`);
    await ward.gateway.database.pool.query('delete from sessions');
    await decide(page, 'Release', 'Weighed again');
    await page.getByText('the session has ended; nothing was done').waitFor();
    await expectNoViolationsInAnyLight(page);
    const { rows } = await ward.gateway.database.pool.query(
      'select verdict from readings where reading_id = $1',
      [id],
    );
    expect(rows).toEqual([{ verdict: 'held' }]);
    await page.context().close();
  });

  it('has a report to print without what only a screen needs', async () => {
    const page = await open('ines', '/desk/unconfirmed');
    await expectNoViolationsInAnyLight(page);
    await page.emulateMedia({ media: 'print' });
    expect(await page.getByRole('button', { name: 'Sign out' }).isVisible()).toBe(false);
    expect(await page.getByRole('table').isVisible()).toBe(true);
    await page.context().close();
  });
});
