import type { DeviceReport } from '../../src/vitals/device-report.js';
import type { Reading } from '../../src/vitals/shapes.js';
import {
  contextOf,
  cuffPressure,
  kept,
  minutesFromNoon,
  NOON,
  oximeterPulse,
  saturation,
  temperature,
} from './build-context.js';
import { findingsOf, judge } from './judge.js';

const MONITOR = { system: 'urn:example:device', value: 'MON-4' };
const told = (changes: Partial<DeviceReport> = {}): Partial<Reading> => ({
  device: MONITOR,
  report: { at: 'OBX 2', ...changes },
});
const conflicts = (readings: readonly Reading[], changes: Parameters<typeof contextOf>[1] = {}) =>
  findingsOf('reading-conflicts', contextOf(readings, changes));

describe('reading-conflicts', () => {
  it('holds both sides of one message, in one finding', () => {
    const judged = judge(contextOf([saturation(96, told()), saturation(93, told())]));
    expect(judged.findings).toMatchObject([
      { rule: 'reading-conflicts', verdict: 'held', hold: 'value', readings: [0, 1] },
    ]);
    expect(judged.readings.map(({ status }) => status)).toEqual([null, null]);
  });

  it('lets both sides out where one of them is critical', () => {
    const judged = judge(contextOf([saturation(96, told()), saturation(81, told())]));
    expect(judged.readings.map(({ status }) => status)).toEqual(['preliminary', 'preliminary']);
  });

  it('holds against what was kept, which stays as it was', () => {
    const earlier = [kept(saturation(96, told()))];
    const context = contextOf([saturation(93, told())], { earlier });
    const [finding] = findingsOf('reading-conflicts', context);
    expect(finding).toMatchObject({ readings: [0], earlier: [earlier[0]?.readingId] });
    expect(finding?.message).toContain('93 % and 96 % at 12:00');
    expect(finding?.discreetMessage).not.toContain('96');
    expect(judge(context)).toMatchObject({ resolved: [], publishEarlier: [] });
  });

  const other = { device: { system: 'urn:example:device', value: 'MON-5' } };
  it.each<[string, Reading, number]>([
    ['the same value', saturation(96, told()), 0],
    ['the same value with another zero', saturation(96.0, told()), 0],
    ['another value', saturation(95, told()), 1],
    ['the second after', saturation(95, { ...told(), takenAt: at(1000) }), 0],
    ['the same second', saturation(95, { ...told(), takenAt: at(400) }), 1],
    ['another device', saturation(95, { ...told(), ...other }), 0],
    ['no device', saturation(95, { ...told(), device: null }), 0],
    ['another site', saturation(95, { ...told(), site: 'toe' }), 0],
    ['another side', saturation(95, { ...told(), side: 'left' }), 0],
    ['another sign', oximeterPulse(95, told()), 0],
    ['a time to the minute only', saturation(95, told({ doubts: ['time-to-minute-only'] })), 0],
    ['a time that is not known', saturation(95, told({ doubts: ['time-missing'] })), 0],
    ['a signal in doubt', saturation(95, told({ signal: ['early'] })), 0],
    ['no measurement', saturation(95, { ...told(), values: {}, absent: 'not-possible' }), 0],
    ['a test', saturation(95, told({ doubts: ['test-data'] })), 0],
  ])('%s', (_what, second, expected) => {
    expect(conflicts([saturation(96, told()), second])).toHaveLength(expected);
  });

  it('is silent about equal values by two methods: they support each other', () => {
    const [one, two] = [oximeterPulse(72, told()), oximeterPulse(72, told())];
    expect(conflicts([one, { ...two, method: 'oscillometry' }])).toEqual([]);
    expect(conflicts([one, { ...oximeterPulse(78, told()), method: 'oscillometry' }])).toEqual([]);
  });

  it('is silent about repeats that a person typed at one time, and about a typed one kept before', () => {
    const typed = { device: MONITOR };
    expect(conflicts([saturation(96, typed), saturation(93, typed)])).toEqual([]);
    expect(conflicts([saturation(93, told())], { earlier: [kept(saturation(96, typed))] })).toEqual(
      [],
    );
  });

  it('tells two probes of a device apart, within one message', () => {
    const [first, second] = [told({ channel: '1.2.1' }), told({ channel: '1.2.2' })];
    expect(conflicts([temperature(36.9, first), temperature(34.2, second)])).toEqual([]);
    expect(conflicts([temperature(36.9, first), temperature(34.2, first)])).toHaveLength(1);
    // A path means nothing in another message (SDPi R8015: stable paths are recommended only).
    const earlier = [kept(temperature(36.9, first))];
    expect(conflicts([temperature(34.2, second)], { earlier })).toHaveLength(1);
  });

  it('compares the parts of a pressure that both tell', () => {
    const [whole, systolic] = [cuffPressure([120, 80], told()), cuffPressure([120, null], told())];
    expect(conflicts([whole, systolic])).toEqual([]);
    expect(conflicts([whole, cuffPressure([120, 84], told())])).toHaveLength(1);
  });

  it('names all of three', () => {
    const three = [saturation(96, told()), saturation(93, told()), saturation(91, told())];
    expect(conflicts(three).map(({ readings }) => readings)).toEqual([[0, 1, 2]]);
  });
});

describe('a reading without a number', () => {
  it('is held against none: a pulse that was refused contradicts no oximeter', () => {
    const refused = {
      ...oximeterPulse(0),
      method: 'palpation',
      values: {},
      absent: 'refused',
    } as const;
    expect(judge(contextOf([refused, oximeterPulse(72)])).findings).toEqual([]);
    const earlier = [kept({ ...temperature(0), site: 'rectal', values: {}, absent: 'refused' })];
    expect(judge(contextOf([temperature(36.8)], { earlier })).findings).toEqual([]);
  });
});

/** Cross-checks widen their window by how far a device's times may be off, as registered. */
describe('clocks that are registered as good to some time', () => {
  const late = { takenAt: minutesFromNoon(-7), ...told() };
  const pair = (timeAccuracyMs: number | null) =>
    contextOf([{ ...oximeterPulse(72), method: 'palpation' }, oximeterPulse(120, late)], {
      devices: [
        {
          device: MONITOR,
          registered: { signs: null, disabled: false, timeAccuracyMs },
          associations: [],
          clock: null,
        },
      ],
    });

  it.each([
    [null, 0],
    [119_000, 0],
    [120_000, 1],
  ])('good to %s ms: held against a reading 7 min away, for a window of 5 min', (ms, expected) => {
    expect(findingsOf('pulse-methods-disagree', pair(ms))).toHaveLength(expected);
  });
});

function at(ms: number): Reading['takenAt'] {
  return { ...NOON, epochMs: NOON.epochMs + ms };
}
