import { CONSCIOUSNESS_CODES, type Method } from '../../src/vitals/words.js';
import {
  bornOn,
  contextOf,
  cuffPressure,
  linePressure,
  manualPressure,
  oximeterPulse,
  palpatedPulse,
  reading,
  respiratoryRate,
  saturation,
  temperature,
} from './build-context.js';
import { findingsOf, heard, judge, speaks, verdictOf } from './judge.js';

const only = (vital: Parameters<typeof reading>[0]) => (value: number) => reading(vital, { value });
const device = { device: { system: 'urn:example:device', value: 'M-4' } };
const byDevice = (value: number) => oximeterPulse(value, device);

/**
 * At, and one step outside, each reject bound. MIMIC-III benchmark 2019: 350, 47, 375, 275; ricu 0.6.3:
 * 300, 250, 100; OHDSI 2022: 10, 680; MIMIC Code: 10 degrees; Salmasi 2017 (from memory, unconfirmed): 20,
 * 225. Others proposed, no source.
 */
describe('value-impossible', () => {
  it.each([
    ['systolic by cuff below 20', (v: number) => cuffPressure([v, 2], device), 20, 19],
    ['systolic by cuff above 300', (v: number) => cuffPressure([v, 140], device), 300, 301],
    ['systolic by line below 1', (v: number) => linePressure([v, null]), 1, 0.9],
    ['systolic by line above 375', (v: number) => linePressure([v, 150]), 375, 376],
    ['diastolic above 225', (v: number) => cuffPressure([299, v], device), 225, 226],
    ['mean alone below 10', (v: number) => linePressure([null, null, v]), 10, 9],
    ['mean alone above 250', (v: number) => linePressure([null, null, v]), 250, 251],
    ['pulse above 350', byDevice, 350, 351],
    ['breathing above 150', only('respiratory-rate'), 150, 151],
    ['breathing below 0', only('respiratory-rate'), 0, -1],
    ['saturation above 100', saturation, 100, 101],
    ['temperature below 10', temperature, 10, 9.9],
    ['temperature above 47', temperature, 47, 47.1],
    ['weight below 0.2', only('body-weight'), 0.2, 0.19],
    ['weight above 680', only('body-weight'), 680, 681],
    ['height below 20', only('body-height'), 20, 19.9],
    ['height above 275', only('body-height'), 275, 275.1],
    ['oxygen flow above 150', only('oxygen-flow'), 150, 151],
    ['oxygen flow below 0', only('oxygen-flow'), 0, -0.1],
    ['inspired oxygen below 10', only('inspired-oxygen'), 10, 9.9],
    ['inspired oxygen above 100', only('inspired-oxygen'), 100, 100.1],
  ])('%s', (_name, make, passes, fails) => {
    expect(speaks('value-impossible', make(passes))).toBe(false);
    expect(speaks('value-impossible', make(fails))).toBe(true);
    expect(verdictOf(make(fails))).toBe('rejected');
  });

  it('rejects a digit too many (Bland-Altman 1999 data circulate with 1108 for 108)', () => {
    const judged = judge(contextOf([manualPressure([1108, 74]), saturation(97)]));
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['rejected', 'accepted']);
    expect(judged.readings[0]).toMatchObject({ interpretation: {}, critical: false, status: null });
    expect(judged.findings).toMatchObject([
      {
        rule: 'value-impossible',
        figures: { value: 1108, limit: 300, unit: 'mm[Hg]' },
        source: expect.stringContaining('ricu') as string,
      },
    ]);
  });

  it('says nothing of readings that were not taken', () => {
    expect(heard(contextOf([reading('body-weight', {}, { absent: 'not-possible' })]))).toEqual([]);
  });
});

/** OHDSI 2022: 250, 200; FDA K212665: 25, 250; MIMIC Code: 70; ricu 0.6.3: 50, 42; MIMIC-III: 26. */
describe('value-doubtful', () => {
  it.each([
    ['systolic below 40', (v: number) => cuffPressure([v, 21], device), 40, 39],
    ['systolic above 250', (v: number) => cuffPressure([v, 140], device), 250, 251],
    ['systolic by line above 250', (v: number) => linePressure([v, 140]), 250, 251],
    ['diastolic below 20', (v: number) => cuffPressure([70, v], device), 20, 19],
    ['diastolic above 200', (v: number) => cuffPressure([250, v], device), 200, 201],
    ['mean alone below 30', (v: number) => linePressure([null, null, v]), 30, 29],
    ['mean alone above 190', (v: number) => linePressure([null, null, v]), 190, 191],
    ['pulse below 25', byDevice, 25, 24],
    ['pulse above 250', byDevice, 250, 251],
    ['breathing above 70', only('respiratory-rate'), 70, 71],
    ['no breathing', only('respiratory-rate'), 1, 0],
    ['saturation below 50', saturation, 50, 49],
    ['temperature below 26', temperature, 26, 25.9],
    ['temperature above 42', temperature, 42, 42.1],
    ['weight below 0.4', only('body-weight'), 0.4, 0.39],
    ['weight above 250', only('body-weight'), 250, 250.1],
    ['height below 25', only('body-height'), 25, 24.9],
    ['height above 230', only('body-height'), 230, 230.1],
    ['oxygen flow above 70', only('oxygen-flow'), 70, 71],
    ['inspired oxygen below 20', only('inspired-oxygen'), 20, 19.9],
  ])('%s', (_name, make, passes, fails) => {
    expect(speaks('value-doubtful', make(passes))).toBe(false);
    expect(speaks('value-doubtful', make(fails))).toBe(true);
    expect(verdictOf(make(fails))).toBe('held');
  });

  it.each([
    ['an infant', bornOn('2025-06-01'), 101, 49],
    ['a child', bornOn('2020-06-01'), 81, 39],
  ])('follows the age of %s', (_name, patient, breaths, beats) => {
    expect(speaks('value-doubtful', respiratoryRate(breaths), { patient })).toBe(true);
    expect(speaks('value-doubtful', respiratoryRate(breaths - 1), { patient })).toBe(false);
    expect(speaks('value-doubtful', palpatedPulse(beats), { patient })).toBe(true);
    expect(speaks('value-doubtful', palpatedPulse(beats + 1), { patient })).toBe(false);
  });

  it('takes the widest bounds where the age is not known', () => {
    const patient = bornOn(null);
    expect(speaks('value-doubtful', respiratoryRate(100), { patient })).toBe(false);
    expect(speaks('value-doubtful', palpatedPulse(25), { patient })).toBe(false);
  });

  it('names every doubted part in one finding, with the entered value', () => {
    const hot = temperature('43.06', {
      entered: { value: '109.5', unit: '[degF]' },
      sentUnit: '[degF]',
    });
    const [finding] = findingsOf('value-doubtful', contextOf([hot]));
    expect(finding?.message).toContain('43.06 °C (entered as 109.5 °F) is above 42 °C');
    const [both] = findingsOf('value-doubtful', contextOf([cuffPressure([38, 18], device)]));
    expect(both?.message).toMatch(/Systolic pressure 38 mmHg .* and diastolic pressure 18 mmHg/);
  });

  it('is a critical value, so it goes out at once', () => {
    const judged = judge(contextOf([respiratoryRate(0)]));
    expect(judged.readings[0]).toMatchObject({
      verdict: 'held',
      hold: 'value',
      critical: true,
      status: 'preliminary',
      interpretation: { value: 'LL' },
    });
  });
});

/** PMC7015776 Table 1: pressures at or below 10 are artefact; oximeters show nought without a pulse. */
describe('no-signal', () => {
  const pulseZero = (method: Method) => reading('pulse-rate', { value: 0 }, { method });

  it.each([
    ['an oximeter pulse', pulseZero('pulse-oximetry')],
    ['a cuff pulse', pulseZero('oscillometry')],
    ['a saturation', saturation(0)],
    ['a cuff that shows nought', cuffPressure([0, 0])],
    ['a diastolic by cuff', cuffPressure([96, 0])],
    ['a diastolic by line', linePressure([96, 0])],
    ['a mean by line', linePressure([null, null, 0])],
  ])('rejects a zero of %s', (_name, zero) => {
    expect(heard(contextOf([zero]))).toEqual(['no-signal rejected 0']);
  });

  it.each(['palpation', 'auscultation', 'electrocardiography', 'invasive'] as const)(
    'a pulse of zero by %s is held and critical, never rejected',
    (method) => {
      const judged = judge(contextOf([pulseZero(method)]));
      expect(judged.readings[0]).toMatchObject({
        verdict: 'held',
        critical: true,
        status: 'preliminary',
      });
    },
  );

  it.each(['counted', 'impedance', 'capnography'] as const)(
    'no breathing by %s is held and critical',
    (method) => {
      const judged = judge(contextOf([respiratoryRate(0, { method })]));
      expect(judged.readings[0]).toMatchObject({ verdict: 'held', critical: true });
    },
  );

  it('a zero mean beside two sound pressures costs the mean alone', () => {
    expect(heard(contextOf([cuffPressure([84, 50, 0], device)]))).toEqual([
      'mean-outside-pressures noted 0',
      'value-critical noted 0',
    ]);
  });
});

/** Phase IV where the sounds go on to zero (from memory, unconfirmed). */
describe('diastolic-heard-to-zero', () => {
  it('is held for the muffling, and critical', () => {
    const judged = judge(contextOf([manualPressure([116, 0])]));
    expect(judged.findings.map(({ rule }) => rule)).toEqual([
      'diastolic-heard-to-zero',
      'value-critical',
    ]);
    expect(judged.readings[0]).toMatchObject({ verdict: 'held', status: 'preliminary' });
  });

  it('is not lifted by a confirmation: the other figure is wanted', () => {
    const confirmed = manualPressure([116, 0], { context: { confirmed: true } });
    expect(verdictOf(confirmed)).toBe('held');
  });

  it('is silent one step above', () => {
    expect(speaks('diastolic-heard-to-zero', manualPressure([116, 2]))).toBe(false);
  });
});

/** NEWS2 2017, Chart 1: the bands that score 3, and C, V, P, U. */
describe('value-critical', () => {
  it.each([
    [respiratoryRate(8), respiratoryRate(9)],
    [respiratoryRate(25), respiratoryRate(24)],
    [saturation(91), saturation(92)],
    [palpatedPulse(40), palpatedPulse(41)],
    [palpatedPulse(131), palpatedPulse(130)],
    [cuffPressure([90, 60]), cuffPressure([91, 60])],
    [cuffPressure([220, 100]), cuffPressure([219, 100])],
    [temperature('35.0'), temperature(35.1)],
    [temperature('40.0'), temperature(39.9)],
  ])('case %#: notes the critical value and not the step before', (critical, before) => {
    expect(heard(contextOf([critical]))).toEqual(['value-critical noted 0']);
    expect(heard(contextOf([before]))).toEqual([]);
    expect(judge(contextOf([critical])).readings[0]).toMatchObject({
      verdict: 'noted',
      status: 'final',
      critical: true,
    });
  });

  it.each(CONSCIOUSNESS_CODES)('consciousness %s', (code) => {
    expect(speaks('value-critical', reading('consciousness', {}, { code }))).toBe(code !== 'alert');
  });

  it('asks for a second measurement and for help, and names limit, band and source', () => {
    const [finding] = findingsOf('value-critical', contextOf([manualPressure([84, 58])]));
    expect(finding).toMatchObject({
      message: 'Systolic pressure 84 mmHg is critically low (90 mmHg or less, from 18 years).',
      figures: { value: 84, limit: 90, unit: 'mm[Hg]' },
      source: 'National Early Warning Score (NEWS) 2, RCP London, Chart 1, 2017',
    });
    expect(finding?.advice).toMatch(/again.*help/);
  });

  it('speaks by the band of the age', () => {
    const patient = bornOn('2026-02-01');
    // Bedside PEWS 2009, 0 to 3 months: pulse critical at or below 80.
    expect(speaks('value-critical', palpatedPulse(80), { patient })).toBe(true);
    expect(speaks('value-critical', palpatedPulse(131), { patient })).toBe(false);
  });

  it('of an unknown age speaks of what is critical at every age', () => {
    const patient = bornOn(null);
    expect(speaks('value-critical', palpatedPulse(40), { patient })).toBe(true);
    expect(speaks('value-critical', palpatedPulse(60), { patient })).toBe(false);
  });

  it('says nothing of what cannot be a measurement', () => {
    expect(speaks('value-critical', palpatedPulse(900))).toBe(false);
  });
});
