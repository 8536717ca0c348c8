import type { Browser, Page } from 'playwright-core';
import {
  describeInChromium,
  expectNoViolationsInAnyLight,
  launchChromium,
  signInAs,
} from '../setup/browser.js';
import { fillDeskWard, openDeskWard } from '../setup/desk-ward.js';
import type { DeskWard } from '../setup/desk-ward.js';
import { pressure, registerPatient, setOf } from '../setup/example-sets.js';

const SETTING = 'blood-pressure-methods-disagree.systolic';

describeInChromium('rules, trials and editions, in a browser', () => {
  let ward: DeskWard;
  let browser: Browser;
  let page: Page;
  const complaints: string[] = [];
  const shot = (name: string) =>
    process.env.SHOTS === undefined
      ? undefined
      : page.screenshot({ path: `${process.env.SHOTS}/${name}.png`, fullPage: true });

  beforeAll(async () => {
    ward = await openDeskWard();
    await fillDeskWard(ward);
    const patient = await registerPatient(ward.gateway, 'DR-1');
    await ward.send(
      setOf(patient, [pressure('auscultation', 120, 76), pressure('oscillometry', 138, 80)], {
        location: 'larkfield/7',
      }),
    );
    browser = await launchChromium();
    page = await signInAs(browser, ward, 'ines', '/desk/rules');
    page.on('console', (message) => {
      // An answer of 400 is meant: the form is shown again with its faults.
      if (!message.text().includes('status of 400')) complaints.push(message.text());
    });
    page.on('pageerror', (error) => complaints.push(String(error)));
  });
  afterAll(async () => {
    await browser.close();
    await ward.gateway.close();
  });

  it('shows every rule with its source, its numbers and how often it spoke', async () => {
    await page.goto('/desk/rules');
    await page
      .getByRole('row')
      .filter({ hasText: 'blood-pressure-methods-disagree' })
      .first()
      .waitFor();
    await expectNoViolationsInAnyLight(page);
    await shot('rules');
  });

  it('says every fault of a change that cannot be tried', async () => {
    await page.goto(`/desk/rules/trials/new?setting=${SETTING}`);
    await page.getByLabel('New number').fill('fifteen');
    await page.getByLabel('Source: document').fill('Ward rules');
    await page.getByLabel('Name of the site').fill('Larkfield');
    await page.getByRole('button', { name: 'Try it' }).click();
    await page.getByRole('alert').waitFor();
    expect(await page.getByRole('alert').innerText()).toContain('New number must be a number');
    expect(await page.getByLabel('New number').inputValue()).toBe('fifteen');
    await expectNoViolationsInAnyLight(page);
    await shot('trial-refused');
  });

  it('tries a limit to its result, proposes it, and lets another put it into force', async () => {
    await page.goto('/desk/rules');
    const row = page
      .getByRole('row')
      .filter({ has: page.locator('#blood-pressure-methods-disagree') });
    await row.getByText(/\d numbers?/).click();
    await row.getByRole('link', { name: `Try another number for ${SETTING}` }).click();
    await page.getByLabel('New number').fill('15');
    await page.getByLabel('Source: document').fill('Larkfield, ward rules');
    await page.getByLabel('Source: section').fill('blood pressure');
    await page.getByLabel('Source: year').fill('2026');
    await page.getByLabel('Name of the site').fill('Larkfield');
    await page.getByLabel('Try it on the sets of the last days').fill('2');
    await shot('trial-form');
    await expectNoViolationsInAnyLight(page);
    await page.getByRole('button', { name: 'Try it' }).click();
    // The page follows the trial by itself.
    await page.getByText('would have got another verdict').waitFor();
    const result = await page.locator('main').innerText();
    expect(result).toContain('larkfield');
    expect(result).toMatch(/noted\s+held\s+2/);
    await expectNoViolationsInAnyLight(page);
    await shot('trial-result');
    await page.getByLabel('Reason').fill('Agreed by the ward');
    await page.getByRole('button', { name: 'Propose it' }).click();
    await page.getByRole('heading', { level: 1, name: /Edition/ }).waitFor();
    expect(await page.locator('main').innerText()).toContain('A-207');
    await shot('edition');
    const { pathname } = new URL(page.url());

    const manager = await signInAs(browser, ward, 'odette', pathname);
    await expectNoViolationsInAnyLight(manager);
    await manager.getByLabel('Reason').first().fill('The trial changed what it should');
    await manager.getByRole('button', { name: /into force/ }).click();
    await manager
      .getByText(/approved, not in force yet|in force/)
      .first()
      .waitFor();
    await manager.goto('/desk/rules/editions');
    expect(await manager.locator('main').innerText()).toContain('M-104');
    await expectNoViolationsInAnyLight(manager);
    if (process.env.SHOTS) await manager.screenshot({ path: `${process.env.SHOTS}/editions.png` });
    await manager.context().close();
  });

  it('runs into no policy of its own', () => {
    expect(complaints).toEqual([]);
  });
});
