import type { Browser } from 'playwright-core';
import {
  describeInChromium,
  expectNoViolationsInAnyLight,
  launchChromium,
} from '../setup/browser.js';
import { MRN, registerPatient } from '../setup/example-sets.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';
import { registerPeople } from '../setup/people.js';
import type { Passwords } from '../setup/people.js';
import { beginSet, openBed, openSign, tapCount, TABLET } from './at-the-bedside.js';
import type { Bed } from './at-the-bedside.js';

/** A whole set with its looks at every view, on a machine that has much else to do. */
const WHOLE_SET_MS = 120_000;

const SITE = { PATIENT_IDENTIFIERS: `Hospital number=${MRN}` };

interface Observation {
  readonly status: string;
  readonly code: { readonly coding: readonly { readonly code: string }[] };
  readonly valueQuantity?: { readonly value: number; readonly code: string };
  readonly component?: readonly { readonly valueQuantity?: { readonly value: number } }[];
  readonly note?: readonly { readonly text: string }[];
}

describeInChromium('a set at the bedside', () => {
  let gateway: TestGateway;
  let passwords: Passwords;
  let browser: Browser;
  let patients = 0;

  beforeAll(async () => {
    gateway = await openTestGateway(SITE, { localSignIn: true });
    passwords = await registerPeople(gateway);
    browser = await launchChromium();
  });
  afterAll(async () => {
    await browser.close();
    await gateway.close();
  });

  async function open(viewport?: typeof TABLET): Promise<{ bed: Bed; number: string }> {
    patients += 1;
    const number = `BED-${patients}`;
    await registerPatient(gateway, number);
    const bed = await openBed(browser, { gateway, passwords }, 'hazel', viewport);
    return { bed, number };
  }

  /** What the record finds of a patient, by the first LOINC code. */
  async function inRecord(number: string): Promise<Map<string, Observation[]>> {
    const token = await gateway.token('system/Observation.rs');
    const { body } = await gateway.ask<{
      entry?: { resource: Observation & { resourceType: string } }[];
    }>(`/fhir/Observation?patient.identifier=urn:example:mrn%7C${number}&_count=50`, { token });
    const found = new Map<string, Observation[]>();
    for (const { resource } of body.entry ?? []) {
      if (resource.resourceType !== 'Observation') continue;
      const code = resource.code.coding[0]?.code ?? '';
      found.set(code, [...(found.get(code) ?? []), resource]);
    }
    return found;
  }

  it(
    'goes from the first tap to the record, with a repeat that settles a disagreement',
    async () => {
      const { bed, number } = await open();
      await expectNoViolationsInAnyLight(bed.page);
      await beginSet(bed, number);
      await bed.press('Hands cleaned');
      await expectNoViolationsInAnyLight(bed.page);

      await bed.press('Next: Breaths');
      await bed.press('Count');
      await expectNoViolationsInAnyLight(bed.page);
      await tapCount(bed, 8, 3_500);
      await bed.pass(3_000);
      await bed.pass(1_100);
      await bed.press('Take it');
      await bed.page.getByText('8 in 30 s × 2 = 16 a minute').waitFor();
      await bed.choose('Rhythm', 'regular');
      await bed.answered();

      await bed.press('Next: Pulse');
      await bed.press('Count');
      await tapCount(bed, 0, 0);
      await bed.pass(31_000);
      await bed.pass(1_100);
      await bed.type('36', 'Take it');
      await bed.choose('Where', 'wrist (radial)');
      await bed.choose('Side', 'left');
      await bed.choose('Rhythm', 'regular');
      await bed.answered();
      await expectNoViolationsInAnyLight(bed.page);

      await bed.press('Next: Oximeter');
      await bed.type('96', 'Next: Pulse shown');
      await bed.type('74');
      await bed.choose('Where', 'finger');
      await bed.press('Next: Pressure, by hand');
      await bed.type('118', 'Next: Diastolic');
      await bed.type('76');
      await bed.choose('How', 'by stethoscope');
      await bed.choose('Where', 'upper arm');
      await bed.choose('Side', 'left');
      await bed.choose('Cuff', 'adult');
      await bed.choose('Patient is', 'sitting');

      await bed.press('Next: Pressure, by cuff');
      await bed.press(/^As last time: .*upper arm · left · adult/);
      await bed.type('148', 'Next: Diastolic');
      await bed.type('81', 'Next: Mean, if shown');
      await bed.press('Next: Pulse, if shown');
      await bed.press('Done');
      await bed.answered();
      await bed.page.getByText('Measure again by both methods').first().waitFor();
      await expectNoViolationsInAnyLight(bed.page);
      await bed.press('Measure again: Pressure, by cuff');
      await bed.press(/^As last time/);
      await bed.type('120', 'Next: Diastolic');
      await bed.type('78', 'Next: Mean, if shown');
      await bed.press('Next: Pulse, if shown');
      await bed.press('Done');
      await bed.answered();
      await bed.page.getByText('no longer held for a disagreement').first().waitFor();

      await bed.press('Next: Temperature');
      await bed.page.getByLabel('Unit').selectOption('°F');
      await bed.type('99.1');
      await bed.choose('Where', 'under the tongue');
      await bed.answered();
      await bed.press('Look over and send');
      await expectNoViolationsInAnyLight(bed.page);
      await bed.press('Send 8 readings');
      await bed.page.getByRole('heading', { name: 'The gateway has it' }).waitFor();
      await expectNoViolationsInAnyLight(bed.page);

      const found = await inRecord(number);
      const values = (code: string): unknown[] =>
        (found.get(code) ?? []).map(({ valueQuantity }) => valueQuantity?.value);
      expect(values('9279-1')).toEqual([16]);
      expect(values('8867-4').sort()).toEqual([72, 74]);
      expect(values('2708-6')).toEqual([96]);
      expect(values('8310-5')).toEqual([37.28]);
      const final = (found.get('85354-9') ?? []).filter(({ status }) => status === 'final');
      const systolic = final.map(({ component }) => component?.[0]?.valueQuantity?.value);
      expect(systolic.sort()).toEqual([118, 120]);
      expect(bed.complaints).toEqual([]);
      await bed.page.context().close();
    },
    WHOLE_SET_MS,
  );

  it('is sent once when the button is tapped twice, a skipped sign with its reason', async () => {
    const { bed, number } = await open(TABLET);
    let posts = 0;
    bed.page.on('request', (request) => {
      if (request.method() === 'POST' && request.url().endsWith('/sets')) posts += 1;
    });
    await beginSet(bed, number);
    await openSign(bed, 'Temperature');
    await bed.type('36.9');
    await openSign(bed, 'Pressure, by hand');
    await bed.press('Skip');
    await bed.press('refused');
    await bed.press('All signs');
    await bed.press('Look over and send');
    await bed.button('Send 2 readings').dblclick();
    await bed.page.getByRole('heading', { name: 'The gateway has it' }).waitFor();
    expect(posts).toBe(1);
    const found = await inRecord(number);
    expect(found.get('85354-9')).toMatchObject([{ status: 'cancelled' }]);
    expect(found.get('8310-5')).toMatchObject([{ valueQuantity: { value: 36.9 } }]);
    await expectNoViolationsInAnyLight(bed.page);
    await bed.page.context().close();
  });

  it('says that a value is critical, asks for a second one and for help, and sends all the same', async () => {
    const { bed, number } = await open();
    await beginSet(bed, number);
    await openSign(bed, 'Oximeter');
    await bed.type('84', 'Next: Pulse shown');
    await bed.type('118');
    await bed.answered();
    await bed.page
      .getByText('call for help as local policy says. It can be sent at once.')
      .waitFor();
    await expectNoViolationsInAnyLight(bed.page);
    await bed.press('Measure again: Oximeter');
    await bed.page.getByText('measurement 2').locator('visible=true').waitFor();
    await bed.page.locator('.number input:focus').waitFor();
    await bed.page.keyboard.type('8x5');
    await bed.page.keyboard.press('Enter');
    await bed.page.keyboard.type('116');
    await bed.page.keyboard.press('Enter');
    await bed.press('All signs');
    await bed.press('Look over and send');
    await bed.press('Send 4 readings');
    await bed.page.getByRole('heading', { name: 'The gateway has it' }).waitFor();
    const found = await inRecord(number);
    const values = found.get('2708-6')?.map(({ valueQuantity }) => valueQuantity?.value);
    expect(values?.sort()).toEqual([84, 85]);
    await bed.page.context().close();
  });

  it('says at once what is impossible as typed, beside the value', async () => {
    const { bed, number } = await open();
    await beginSet(bed, number);
    await openSign(bed, 'Temperature');
    await bed.type('99.1');
    await bed.answered();
    const impossible = bed.page.locator('main').getByText('Impossible as typed');
    await impossible.waitFor();
    await bed.page.getByLabel('Unit').selectOption('°F');
    await bed.answered();
    await bed.page.getByText('37.28 °C').waitFor();
    expect(await impossible.count()).toBe(0);
    await bed.page.context().close();
  });

  it('lets its person correct a reading and withdraw another, each with a reason', async () => {
    const { bed, number } = await open();
    await beginSet(bed, number);
    await openSign(bed, 'Temperature');
    await bed.type('36.9');
    await openSign(bed, 'Weight');
    await bed.type('78.5');
    await bed.press('All signs');
    await bed.press('Look over and send');
    await bed.press('Send 2 readings');
    const change = bed.page.getByRole('button', { name: 'Correct or withdraw' });
    await change.first().click();
    await bed.choose('What', 'Correct it');
    await bed.page.getByLabel(/^Temperature/).fill('39,6');
    await bed.choose('Why', 'typed wrongly');
    await expectNoViolationsInAnyLight(bed.page);
    await bed.page.locator('.main-act').click();
    await bed.page.getByText('39.6 °C').waitFor();
    await change.last().click();
    await bed.choose('What', 'Withdraw it');
    await bed.choose('Why', 'wrong patient');
    await bed.page.locator('.main-act').click();
    await bed.page.getByRole('heading', { name: 'The gateway has it' }).waitFor();
    const found = await inRecord(number);
    expect(found.get('8310-5')).toMatchObject([
      { status: 'corrected', valueQuantity: { value: 39.6 } },
    ]);
    expect(found.get('29463-7')).toMatchObject([{ status: 'entered-in-error' }]);
    await bed.page.context().close();
  });

  it('takes no set before both identifiers are confirmed, and clears all with a warning', async () => {
    const { bed, number } = await open();
    await bed.page.getByLabel('Number on the wristband').fill(number);
    await bed.press('Look up');
    await bed.page.getByText('Aldous, Wren').waitFor();
    expect(await bed.button('Begin the set').isDisabled()).toBe(true);
    await bed.page.locator('button.confirming').first().click();
    expect(await bed.button('Begin the set').isDisabled()).toBe(true);
    await expectNoViolationsInAnyLight(bed.page);
    await bed.page.locator('button.confirming').last().click();
    await bed.press('Begin the set');
    await openSign(bed, 'Weight');
    await bed.type('78.5');
    await bed.press(/Aldous, Wren/);
    await bed.page.getByText('will be cleared').waitFor();
    await bed.press('Clear and change patient');
    await bed.page.getByRole('heading', { name: 'Who is it?' }).waitFor();
    await bed.page.reload();
    await bed.page.getByRole('heading', { name: 'Who is it?' }).waitFor();
    expect(await bed.page.getByText('78.5').count()).toBe(0);
    await bed.page.context().close();
  });

  it('takes the set of somebody whom nobody registered, and says plainly that it waits', async () => {
    const { bed } = await open();
    await bed.page.getByLabel('Number on the wristband').fill('BED-NOBODY');
    await bed.press('Look up');
    await bed.page.getByText('No patient has the number BED-NOBODY.').waitFor();
    await expectNoViolationsInAnyLight(bed.page);
    const kind = bed.page.locator('.by-hand').getByLabel('Kind of number');
    if (await kind.isVisible()) await kind.selectOption({ index: 1 });
    await bed.page.getByLabel('or family name').fill('Unbekannt');
    for (const one of await bed.page.locator('button.confirming').all()) await one.click();
    await bed.press('Begin the set');
    await openSign(bed, 'Temperature');
    await bed.type('36.9');
    await bed.press('All signs');
    await bed.press('Look over and send');
    await bed.press('Send one reading');
    await bed.page.getByText('Held for review; not in the record yet.').waitFor();
    expect((await inRecord('BED-NOBODY')).size).toBe(0);
    await bed.page.context().close();
  });

  it('keeps practice against a known value out of every chart', async () => {
    const { bed } = await open();
    await bed.press('Menu');
    await bed.press('Practice with a known value');
    await bed.choose('How', 'by stethoscope');
    await bed.page.getByLabel('Systolic (mmHg)').fill('126');
    await bed.page.getByLabel('Diastolic (mmHg)').fill('92');
    await bed.press('Now the set value');
    await bed.page.getByLabel('Systolic (mmHg)').last().fill('120');
    await bed.page.getByLabel('Diastolic (mmHg)').last().fill('80');
    await bed.press('Compare');
    await bed.page.getByText('✕ Not passed').waitFor();
    const parts = await bed.page.locator('.compared li').allInnerTexts();
    expect(parts.map((part) => part.split(/\n+/))).toEqual([
      ['Systolic', 'Read 126, set 120: difference 6 mmHg (5 %)', '✓ within the limit'],
      ['Diastolic', 'Read 92, set 80: difference 12 mmHg (15 %)', '✕ outside the limit'],
    ]);
    await expectNoViolationsInAnyLight(bed.page);
    await bed.page.context().close();
  });

  it('is entered in one tab at a time, and goes on where it is taken over', async () => {
    const { bed, number } = await open();
    await beginSet(bed, number);
    await openSign(bed, 'Weight');
    await bed.type('78.5');
    await bed.pass(1_000);
    const second = await bed.page.context().newPage();
    second.setDefaultTimeout(5_000);
    await second.goto('/bedside');
    await second.getByText('This page is open in another tab').waitFor();
    expect(await second.getByText('Aldous').count()).toBe(0);
    await second.getByRole('button', { name: 'Go on here instead' }).click();
    await second.getByText('Aldous, Wren').waitFor();
    expect(await second.getByRole('textbox', { name: /^Weight/ }).inputValue()).toBe('78.5');
    await bed.page.getByText('This page is open in another tab').waitFor();
    expect(await bed.page.getByText('Aldous').count()).toBe(0);
    await bed.page.context().close();
  });

  it('shows nobody once it was left alone, and goes on for the same person', async () => {
    const { bed, number } = await open();
    await beginSet(bed, number);
    await openSign(bed, 'Weight');
    await bed.type('78.5');
    await bed.pass(5 * 60_000 + 1_000);
    await bed.page.getByRole('heading', { name: 'Nobody is shown here' }).waitFor();
    expect(await bed.page.getByText(/Aldous|78\.5/).count()).toBe(0);
    await expectNoViolationsInAnyLight(bed.page);
    await bed.page.context().close();
  });

  it('needs no scrolling sideways with text of twice the size', async () => {
    const large = await launchChromium(['--blink-settings=defaultFontSize=32']);
    patients += 1;
    const number = `BED-${patients}`;
    await registerPatient(gateway, number);
    const bed = await openBed(large, { gateway, passwords }, 'hazel');
    const beyond = (): Promise<number> =>
      bed.page.evaluate(() => {
        const { scrollWidth, clientWidth } = document.documentElement;
        return scrollWidth - clientWidth;
      });
    const seen: Record<string, number> = { who: await beyond() };
    await bed.page.getByLabel('Number on the wristband').fill(number);
    await bed.press('Look up');
    await bed.page.getByText('Aldous, Wren').waitFor();
    seen.confirm = await beyond();
    for (const one of await bed.page.locator('button.confirming').all()) await one.click();
    await bed.press('Begin the set');
    seen.signs = await beyond();
    await bed.press('Next: Breaths');
    await bed.press('Count');
    seen.count = await beyond();
    await bed.press('Back');
    await openSign(bed, 'Pressure, by cuff');
    seen.pressure = await beyond();
    await openSign(bed, 'Temperature');
    await bed.type('99.1');
    await bed.answered();
    seen.temperature = await beyond();
    await bed.press('All signs');
    await bed.press('Look over and send');
    seen.review = await beyond();
    expect(Object.entries(seen).filter(([, pixels]) => pixels > 0)).toEqual([]);
    await large.close();
  });

  it('speaks its second language all through, and stays in it', async () => {
    const { bed, number } = await open();
    await bed.press('Menu');
    await bed.choose('Language', 'Deutsch');
    await bed.page.reload();
    await bed.page.getByRole('heading', { name: 'Wer ist es?' }).waitFor();
    expect(await bed.page.locator('html').getAttribute('lang')).toBe('de');
    await bed.page.getByLabel('Nummer auf dem Armband').fill(number);
    await bed.press('Suchen');
    await bed.page.getByText('geboren 21. März 1967').waitFor();
    await expectNoViolationsInAnyLight(bed.page);
    await bed.page.context().close();
  });
});
