import fc from 'fast-check';
import { ageAt } from '../../src/vitals/age.js';
import { criticalValues, interpretReading, isCritical } from '../../src/vitals/interpret.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import { CONSCIOUSNESS_CODES, type ConsciousnessCode } from '../../src/vitals/words.js';
import {
  cuffPressure,
  linePressure,
  NOON,
  oximeterPulse,
  palpatedPulse,
  reading,
  respiratoryRate,
  saturation,
  temperature,
} from '../rules/build-context.js';

const ADULT = ageAt('1961-05-23', NOON);
const code = (value: number) =>
  interpretReading(temperature(value), ADULT, null, DEFAULT_LIMITS).value;

describe('rounding before comparison: half up to the usual resolution (NEWS2 is tabulated so)', () => {
  it('compares temperature in tenths', () => {
    // 95.1 °F is 35.06 °C and 104.0 °F is 40.00 °C; NEWS2 2017 has 35.0 and, of ours, 40.0.
    expect([35.04, 35.049999, 35.05, 35.06].map(code)).toEqual(['LL', 'LL', 'L', 'L']);
    expect([38.04, 38.05, 39.94, 39.95].map(code)).toEqual(['N', 'H', 'H', 'HH']);
  });

  it('compares rates and pressures whole', () => {
    const of = (value: number) =>
      interpretReading(oximeterPulse(value), ADULT, null, DEFAULT_LIMITS).value;
    expect([40.4, 40.5, 130.4, 130.5].map(of)).toEqual(['LL', 'L', 'H', 'HH']);
    // 12.1 kPa is 90.8 mmHg, 12.0 kPa is 90.0 mmHg (UCUM: 1 mm[Hg] = 0.133322 kPa).
    const systolic = (value: number) =>
      interpretReading(cuffPressure([value, 60]), ADULT, null, DEFAULT_LIMITS).systolic;
    expect([90.0, 90.4, 90.8].map(systolic)).toEqual(['LL', 'LL', 'L']);
  });

  it('rounds like decimal arithmetic for every hundredth from 25 to 45 degrees', () => {
    fc.assert(
      fc.property(fc.integer({ min: 2500, max: 4500 }), (hundredths) => {
        const tenths = Math.floor((hundredths + 5) / 10);
        expect(code(hundredths / 100)).toBe(code(tenths / 10));
      }),
    );
  });
});

describe('an age that is not known', () => {
  it('gives no code', () => {
    expect(interpretReading(palpatedPulse(30), null, 'male', DEFAULT_LIMITS)).toEqual({});
  });

  it('gives no code where a birth year leaves two bands open, and one where it does not', () => {
    const fiveOrSix = ageAt('2020', NOON);
    expect(interpretReading(palpatedPulse(90), fiveOrSix, null, DEFAULT_LIMITS)).toEqual({});
    expect(interpretReading(palpatedPulse(90), ageAt('1970', NOON), null, DEFAULT_LIMITS)).toEqual({
      value: 'N',
    });
  });

  it('counts as critical what is so in any band', () => {
    // Bedside PEWS 2009, 0 to 3 months: pulse at or below 80; NEWS2 2017: from 131.
    expect(
      [80, 81, 130, 131].map((at) => isCritical(palpatedPulse(at), null, null, DEFAULT_LIMITS)),
    ).toEqual([true, false, false, true]);
    // Bedside PEWS 2009, 0 to 12 months: at or below 15; NEWS2 2017: from 25.
    expect(
      [15, 16, 24, 25].map((at) => isCritical(respiratoryRate(at), null, null, DEFAULT_LIMITS)),
    ).toEqual([true, false, false, true]);
  });
});

describe('isCritical', () => {
  it('is LL or HH on any part', () => {
    expect(isCritical(cuffPressure([90, 60]), ADULT, null, DEFAULT_LIMITS)).toBe(true);
    expect(isCritical(cuffPressure([91, 60]), ADULT, null, DEFAULT_LIMITS)).toBe(false);
    expect(isCritical(cuffPressure([150, 120]), ADULT, null, DEFAULT_LIMITS)).toBe(true);
    expect(isCritical(cuffPressure([100, 39]), ADULT, null, DEFAULT_LIMITS)).toBe(true);
  });

  it.each(CONSCIOUSNESS_CODES)('consciousness %s (NEWS2 2017: C, V, P and U score 3)', (of) => {
    const level = (each: ConsciousnessCode) => reading('consciousness', {}, { code: each });
    expect(isCritical(level(of), ADULT, null, DEFAULT_LIMITS)).toBe(of !== 'alert');
    expect(interpretReading(level(of), ADULT, null, DEFAULT_LIMITS)).toEqual({});
  });

  it('is never so for what was not measured', () => {
    expect(
      isCritical(reading('pulse-rate', {}, { absent: 'refused' }), ADULT, null, DEFAULT_LIMITS),
    ).toBe(false);
  });

  it('holds a mean pressure that stands alone for critical beyond its hold bounds', () => {
    const mean = (value: number) =>
      isCritical(linePressure([null, null, value]), ADULT, null, DEFAULT_LIMITS);
    expect([29, 30, 190, 191].map(mean)).toEqual([true, false, false, true]);
    expect(isCritical(cuffPressure([120, 80, 12]), ADULT, null, DEFAULT_LIMITS)).toBe(false);
  });
});

describe('criticalValues', () => {
  it('names part, side, limit and band', () => {
    expect(criticalValues(cuffPressure([84, 36]), ADULT, null, DEFAULT_LIMITS)).toMatchObject([
      { part: 'systolic', low: true, limit: { at: 90 }, ages: 'from 18 years' },
      { part: 'diastolic', low: true, limit: { at: 39 }, ages: 'from 18 years' },
    ]);
    expect(criticalValues(saturation(96), ADULT, null, DEFAULT_LIMITS)).toEqual([]);
  });

  it('of an unknown age names only what is critical at every age', () => {
    // The lowest LL and the highest HH of the PEWS 2009 and NEWS2 2017 bands: 40 and 190.
    const limits = (at: number) =>
      criticalValues(palpatedPulse(at), null, null, DEFAULT_LIMITS).map(({ limit, ages }) => [
        limit.at,
        ages,
      ]);
    expect([40, 41, 189, 190].map(limits)).toEqual([[[40, null]], [], [], [[190, null]]]);
    expect(criticalValues(saturation(91), null, null, DEFAULT_LIMITS)).toHaveLength(1);
  });
});
