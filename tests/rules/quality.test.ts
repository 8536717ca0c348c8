import { buildLimits, DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import type { JudgingContext, PastReading, Reading } from '../../src/vitals/shapes.js';
import {
  contextOf,
  cuffPressure,
  manualPressure,
  NOON,
  oximeterPulse,
  palpatedPulse,
  past,
  reading,
  respiratoryRate,
  saturation,
  temperature,
  UNATTENDED,
} from './build-context.js';
import { findingsOf, speaks } from './judge.js';

/** By arithmetic: n in 30 s makes even rates, n in 15 s multiples of 4. */
describe('count-and-window-disagree', () => {
  const id = 'count-and-window-disagree.seconds';
  const countsOf = (seconds: number) => ({
    limits: buildLimits({ [id]: { ...DEFAULT_LIMITS.setting(id), at: seconds } }),
  });

  it.each([
    [30, 18, false],
    [30, 17, true],
    [15, 16, false],
    [15, 18, true],
    [20, 18, false],
    [20, 16, true],
    [60, 17, false],
  ])('counts of %i s: %i a minute', (seconds, rate, spoken) => {
    expect(speaks('count-and-window-disagree', respiratoryRate(rate), countsOf(seconds))).toBe(
      spoken,
    );
  });

  it('is silent until a site tells how long it counts', () => {
    expect(speaks('count-and-window-disagree', respiratoryRate(17))).toBe(false);
  });

  it('is silent about a device, and about a count with its seconds', () => {
    const edition = countsOf(30);
    expect(speaks('count-and-window-disagree', oximeterPulse(71), edition)).toBe(false);
    const counted = { ...palpatedPulse(71), entered: { count: 71, seconds: 60 } };
    expect(speaks('count-and-window-disagree', counted, edition)).toBe(false);
    expect(speaks('count-and-window-disagree', palpatedPulse(71), edition)).toBe(true);
  });
});

/** British Hypertension Society: read to the nearest 2 mmHg (secondary copy). */
describe('odd-last-digit', () => {
  it.each([
    [manualPressure([134, 82]), false],
    [manualPressure([135, 82]), true],
    [manualPressure([134, 81]), true],
    [cuffPressure([135, 81]), false],
    [{ ...manualPressure([135, 82]), entered: kilopascals() }, false],
  ] as const)('case %#', (given, spoken) => {
    expect(speaks('odd-last-digit', given)).toBe(spoken);
  });

  it('names each number between the marks, by a note', () => {
    const [finding] = findingsOf('odd-last-digit', contextOf([manualPressure([135, 81])]));
    expect(finding).toMatchObject({ verdict: 'noted', readings: [0] });
    expect(finding?.message).toBe(
      'Systolic pressure 135 mmHg and diastolic pressure 81 mmHg: a scale with a mark every 2 mmHg does not show that.',
    );
  });
});

function kilopascals(): NonNullable<Reading['entered']> {
  return { systolic: '18.0', diastolic: '10.9', unit: 'kPa' };
}

/** Six numbers after more than half an hour: proposed. */
describe('set-unchanged', () => {
  const round: readonly Reading[] = [
    respiratoryRate(18),
    oximeterPulse(74),
    saturation(97),
    manualPressure([132, 84]),
    temperature('36.7'),
  ];
  const after = (
    minutes: number,
    now: readonly Reading[] = round,
    before: readonly Reading[] = round,
  ) =>
    findingsOf(
      'set-unchanged',
      contextOf(now, { history: before.map((each) => past(each, minutes)) }),
    );

  it('notes all six numbers alike, after more than half an hour and within a day', () => {
    expect([30, 31, 24 * 60, 24 * 60 + 1].map((minutes) => after(minutes).length)).toEqual([
      0, 1, 1, 0,
    ]);
    expect(after(240)[0]).toMatchObject({ verdict: 'noted', readings: [0, 1, 2, 3, 4] });
  });

  it('is silent when one number differs, and about fewer numbers', () => {
    expect(after(240, [...round.slice(0, 4), temperature(36.8)])).toEqual([]);
    expect(after(240, round.slice(1), round.slice(1))).toEqual([]);
  });

  it('is silent when the set before was another one', () => {
    const history = [...round.map((each) => past(each, 240)), past(saturation(95), 120)];
    expect(findingsOf('set-unchanged', contextOf(round, { history }))).toEqual([]);
  });

  it('is silent about a sign more', () => {
    const weight = reading('body-weight', { value: 71.5 });
    expect(after(240, [...round, weight])).toEqual([]);
  });
});

const OXIMETER = { system: 'urn:example:device', value: 'OX-11' };

/** Clocks of 1,700 devices were 24 min wrong on average (Pa Patient Saf Advis 2012;9:143). */
describe('device-clock-hours-off', () => {
  const arriving = (minutes: number, changes: Partial<JudgingContext> = {}) =>
    findingsOf(
      'device-clock-hours-off',
      contextOf([saturation(96, { device: OXIMETER })], {
        receivedAtMs: NOON.epochMs + minutes * 60_000,
        ...changes,
      }),
    ).length;

  it.each([
    [0.5, 0],
    [57.9, 0],
    [58, 1],
    [60, 1],
    [62, 1],
    [62.1, 0],
    [118, 1],
    [-60, 1],
    [-2, 0],
    [14 * 60, 1],
    [15 * 60, 0],
  ])('%f min after the time told', (minutes, expected) => {
    expect(arriving(minutes)).toBe(expected);
  });

  it('is not asked of a set whose time a person told', () => {
    const receivedAtMs = NOON.epochMs + 3_600_000;
    const readings = [saturation(96, { device: OXIMETER }), respiratoryRate(16)];
    expect(findingsOf('device-clock-hours-off', contextOf(readings, { receivedAtMs }))).toEqual([]);
    const unattended = contextOf(readings, { receivedAtMs, source: UNATTENDED });
    expect(findingsOf('device-clock-hours-off', unattended)).not.toEqual([]);
  });
});

/** More than 5 min (Pa Patient Saf Advis 2012;9:143); of the last four, because a delay only adds: proposed. */
describe('device-clock-drifted', () => {
  const of = (value: number): Reading => saturation(value, { device: OXIMETER });
  const before = (minutesAgo: number, delayMinutes: number): PastReading => {
    const { takenAt } = past(of(96), minutesAgo);
    return past(of(96), minutesAgo, { receivedAtMs: takenAt.epochMs + delayMinutes * 60_000 });
  };
  const drifted = (delayMinutes: number, history: readonly PastReading[], now = of(97)) =>
    findingsOf(
      'device-clock-drifted',
      contextOf([now], { history, receivedAtMs: NOON.epochMs + delayMinutes * 60_000 }),
    );
  const late = [before(90, 12), before(60, 9), before(30, 40)];

  it('speaks when each of the last four arrived more than 5 min after its time', () => {
    expect(drifted(8, late)).toMatchObject([
      { verdict: 'noted', figures: { difference: 8, limit: 5, unit: 'min' } },
    ]);
    expect(drifted(5, late)).toEqual([]);
    expect(drifted(8, late.slice(1))).toEqual([]);
    expect(drifted(8, [...late.slice(0, 2), before(30, 1)])).toEqual([]);
  });

  it('looks at the same device, and not at an older fault that has ended', () => {
    expect(drifted(8, late, saturation(97))).toEqual([]);
    expect(drifted(8, [before(120, 1), ...late])).toHaveLength(1);
  });

  it('leaves a whole hour to the other rule', () => {
    expect(drifted(60, late)).toEqual([]);
  });
});
