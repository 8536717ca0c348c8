import type { Browser } from 'playwright-core';
import {
  describeInChromium,
  expectNoViolationsInAnyLight,
  launchChromium,
  signInAs,
} from '../setup/browser.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { registerPeople } from '../setup/people.js';
import type { Passwords } from '../setup/people.js';

describeInChromium('sign-in in a browser', () => {
  let gateway: TestGateway;
  let passwords: Passwords;
  let browser: Browser;

  beforeAll(async () => {
    gateway = await openTestGateway({}, { localSignIn: true });
    passwords = await registerPeople(gateway);
    browser = await launchChromium();
  });
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });

  it('leads to the page that was asked for, and out again', async () => {
    const page = await signInAs(browser, { gateway, passwords }, 'ines', '/desk');
    expect(await page.getByRole('heading', { level: 1 }).textContent()).toBe('Held readings');
    await expectNoViolationsInAnyLight(page);
    await page.getByRole('button', { name: 'Sign out' }).click();
    await page.getByText('You have signed out here.').waitFor();
    await page.goto('/desk');
    expect(new URL(page.url()).pathname).toBe('/signin');
    await page.context().close();
  });

  it('says what is wrong, reads well in any light, and runs into no policy of its own', async () => {
    const page = await browser.newPage({ baseURL: gateway.url });
    const complaints: string[] = [];
    page.on('console', (message) => complaints.push(message.text()));
    await page.goto('/signin');
    await expectNoViolationsInAnyLight(page);
    expect(complaints).toEqual([]);
    await page.getByLabel('Name').fill('ines');
    await page.getByLabel('Password').fill('wrong');
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.getByRole('alert').waitFor();
    await expectNoViolationsInAnyLight(page);
    await page.close();
  });
});
