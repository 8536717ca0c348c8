/** What the bedside page asks for at once: a patient, a check, a correction, a practice. */
import type { Browser, Page } from 'playwright-core';
import type { SetJson } from '../../src/browser/bedside/door.js';
import { openDoorIn, serveDoor, signIn } from '../setup/bedside-browser.js';
import type { InPage } from '../setup/bedside-browser.js';
import { describeInChromium, launchChromium } from '../setup/browser.js';
import { oxygen, pressure, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { registerPeople } from '../setup/people.js';

describeInChromium('the way to the gateway from the bedside', () => {
  let gateway: TestGateway;
  let patient: TestPatient;
  let browser: Browser;
  let page: Page;

  beforeAll(async () => {
    gateway = await openTestGateway({}, { localSignIn: true });
    const passwords = await registerPeople(gateway);
    patient = await registerPatient(gateway, 'LF-20417', '1958-11-02');
    browser = await launchChromium();
    const context = await browser.newContext();
    await serveDoor(context);
    page = await context.newPage();
    await signIn(page, { gateway, passwords }, 'hazel');
    await openDoorIn(page, gateway);
    await page.evaluate(() => (globalThis as InPage).door.signedIn());
  });
  afterEach(() => page.context().setOffline(false));
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });

  it('checks without a network on the device, in the gateway’s words', async () => {
    // Of nobody with earlier values: those only the gateway knows.
    const another = await registerPatient(gateway, 'LF-20466', '1954-05-21');
    const set = setOf(another, [
      pressure('auscultation', 118, 76),
      pressure('oscillometry', 148, 81),
    ]);
    const check = (each: unknown) => (globalThis as InPage).door.check(each as SetJson, null);
    const byGateway = await page.evaluate(check, set);
    await page.context().setOffline(true);
    const byDevice = await page.evaluate(check, set);
    expect(byGateway).toMatchObject({ by: 'gateway', answer: { verdict: 'held' } });
    expect(byDevice).toEqual({ ...byGateway, by: 'this-device' });
  });

  it('corrects a set as the person who sent it', async () => {
    const set = setOf(patient, [oxygen(84)]);
    const outcome = (await page.evaluate(
      (each) => (globalThis as InPage).door.send(each as unknown as SetJson),
      set,
    )) as unknown as { answer: SetAnswer };
    expect(outcome.answer.readings[0]?.version).toBe(1);
    const done = await page.evaluate(
      ([setId, reading]) =>
        (globalThis as InPage).door.decide(setId, 0, {
          ...{ action: 'correct', reason: 'Read upside down', reasonCode: 'entry-error' },
          ...{ expectedVersion: 1, reading: reading as SetJson['readings'][number] },
        }),
      [set.setId, oxygen(94)] as const,
    );
    expect(done).toMatchObject({
      state: 'done',
      answer: { readings: [{ value: 94, version: 2 }] },
    });
  });

  it('finds a patient, or says that there is nobody', async () => {
    const find = (value: string) =>
      page.evaluate(
        (each) =>
          (globalThis as InPage).door.findPatient({ system: 'urn:example:mrn', value: each }),
        value,
      );
    expect(await find('LF-20417')).toMatchObject({ familyName: 'Aldous', birthDate: '1958-11-02' });
    expect(await find('LF-2041')).toBe('unknown');
    await page.context().setOffline(true);
    expect(await find('LF-20417')).toBe('no-network');
  });

  it('compares a practice, which is charted nowhere', async () => {
    const practise = (systolic: number) =>
      page.evaluate(
        (read) =>
          (globalThis as InPage).door.practice(
            {
              ...{ vital: 'blood-pressure', method: 'auscultation', unit: 'mm[Hg]' },
              ...{ systolic: read, diastolic: 70 },
            },
            { systolic: 120, diastolic: 70 },
          ),
        systolic,
      );
    expect(await practise(131)).toMatchObject({ state: 'compared', passed: true });
    expect(await practise(135)).toMatchObject({ state: 'compared', passed: false });
  });
});
