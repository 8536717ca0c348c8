/** Clocks of sending systems and of devices: IHE Devices TF-2 B.8.9 (± 300 s); the other numbers are proposed. */
import type { DeviceReport } from '../../src/vitals/device-report.js';
import type { JudgingContext, SourceFacts } from '../../src/vitals/shapes.js';
import { contextOf, NOON, saturation } from './build-context.js';
import { findingsOf, heard, judge } from './judge.js';

const source = (changes: Partial<SourceFacts>): { source: SourceFacts } => ({
  source: { attended: true, secondIdentifierRequired: false, ...changes },
});
const SECOND = 1000;
const DAY = 86_400_000;

/** One saturation, taken so many ms after it arrived. */
const taken = (
  ms: number,
  changes: Partial<JudgingContext> = {},
  report?: Partial<DeviceReport>,
): JudgingContext =>
  contextOf(
    [
      saturation(97, {
        takenAt: { ...NOON, epochMs: NOON.epochMs + ms },
        ...(report === undefined ? {} : { report: { at: 'OBX 2', ...report } }),
      }),
    ],
    { receivedAtMs: NOON.epochMs, ...changes },
  );

describe('source-clock-off and source-clock-far-off', () => {
  it.each([
    [undefined, []],
    [0, []],
    [5 * SECOND, []],
    [60 * SECOND, []],
    [60 * SECOND + 1, ['source-clock-off noted']],
    [-61 * SECOND, ['source-clock-off noted']],
    [300 * SECOND, ['source-clock-off noted']],
    [300 * SECOND + 1, ['source-clock-far-off held']],
    [-24 * 60 * SECOND, ['source-clock-far-off held']],
  ])('a clock %s ms ahead', (skewMs, said) => {
    expect(heard(taken(0, skewMs === undefined ? {} : source({ skewMs })))).toEqual(said);
  });

  it('say by how much, and which way', () => {
    const message = (skewMs: number) => judge(taken(0, source({ skewMs }))).findings[0]?.message;
    expect(message(75_400)).toContain('75 s ahead');
    expect(message(-24 * 60 * SECOND)).toContain('24 min behind');
  });

  it('a critical value goes out all the same', () => {
    const low = contextOf([saturation(80)], source({ skewMs: 900 * SECOND }));
    expect(judge(low).readings[0]).toMatchObject({ hold: 'value', status: 'preliminary' });
  });
});

describe('time-in-future of a source whose clock a time service keeps', () => {
  it.each([
    [60 * SECOND, false, 0],
    [60 * SECOND + 1, false, 0],
    [60 * SECOND, true, 0],
    [60 * SECOND + 1, true, 1],
    [300 * SECOND + 1, false, 1],
  ])('%i ms ahead, synchronised: %s', (ms, synchronised, findings) => {
    expect(findingsOf('time-in-future', taken(ms, source({ synchronised })))).toHaveLength(
      findings,
    );
  });
});

describe('reading-days-old', () => {
  it.each([
    [7 * DAY, 0],
    [7 * DAY + 1, 1],
  ])('measured %i ms ago', (ms, findings) => {
    expect(findingsOf('reading-days-old', taken(-ms, {}, {}))).toHaveLength(findings);
  });

  it('is silent about what a person charts later, and where the clock was never set', () => {
    expect(heard(taken(-20 * DAY))).toEqual([]);
    expect(heard(taken(-20 * DAY, {}, { doubts: ['clock-unset'] }))).toEqual(['clock-unset held']);
  });

  it('is a value hold', () => {
    expect(judge(taken(-20 * DAY, {}, {})).readings[0]).toMatchObject({
      hold: 'value',
      status: null,
    });
  });
});

describe('clock-corrected', () => {
  const shown = (deviceTime: string, doubts?: DeviceReport['doubts']) =>
    findingsOf('clock-corrected', taken(0, {}, { deviceTime, ...(doubts && { doubts }) }));

  it.each([
    ['2026-03-14T12:00:37+01:00', '37 s ahead'],
    ['2026-03-14T10:35:59.500Z', '24 min behind'],
    ['2026-03-14T12:00:00+01:00', null],
    ['not a time', null],
  ])('a device that showed %s', (deviceTime, words) => {
    const [finding] = shown(deviceTime);
    if (words === null) expect(finding).toBeUndefined();
    else
      expect(finding).toMatchObject({
        verdict: 'noted',
        message: expect.stringContaining(words) as string,
      });
  });

  it('is silent where the time is that of the arrival', () => {
    expect(shown('2026-03-14T09:00:00+01:00', ['time-missing'])).toEqual([]);
  });
});
