import fc from 'fast-check';
import { correctDeviceTime, isClockKnown } from '../../src/vitals/device-clock.js';
import { isSettled } from '../../src/vitals/settled.js';
import { identityDoubtOf } from '../../src/vitals/identity-doubt.js';
import type { Finding } from '../../src/vitals/shapes.js';

const NOW = Date.UTC(2026, 2, 14, 11, 0);
const MINUTE = 60_000;

/** A pair of ten minutes at the most: proposed. */
describe('correctDeviceTime', () => {
  it('takes off what the clock is ahead, and adds what it is behind', () => {
    const seen = (offsetMs: number) => ({ offsetMs, seenAtMs: NOW - MINUTE });
    expect(correctDeviceTime(NOW, seen(24 * MINUTE), NOW)).toBe(NOW - 24 * MINUTE);
    expect(correctDeviceTime(NOW, seen(-500), NOW)).toBe(NOW + 500);
  });

  it.each([
    [10 * MINUTE, true],
    [10 * MINUTE + 1, false],
    [-10 * MINUTE, true],
    [-10 * MINUTE - 1, false],
  ])('relies on a pair that was seen %i ms ago: %s', (agoMs, known) => {
    const clock = { offsetMs: 3000, seenAtMs: NOW - agoMs };
    expect(correctDeviceTime(NOW, clock, NOW)).toBe(known ? NOW - 3000 : null);
    expect(isClockKnown(clock, NOW)).toBe(known);
  });

  it('corrects nothing where nobody ever compared the clock', () => {
    expect(correctDeviceTime(NOW, null, NOW)).toBeNull();
  });

  it('takes the number of an edition in place of its own', () => {
    const clock = { offsetMs: 3000, seenAtMs: NOW - 2 * MINUTE };
    expect(correctDeviceTime(NOW, clock, NOW, MINUTE)).toBeNull();
  });

  it('keeps the distance of two readings', () => {
    fc.assert(
      fc.property(fc.integer(), fc.integer(), fc.integer(), (one, other, offsetMs) => {
        const clock = { offsetMs, seenAtMs: NOW };
        const [a, b] = [one, other].map((ms) => correctDeviceTime(ms, clock, NOW) ?? Number.NaN);
        expect((a ?? 0) - (b ?? 0)).toBe(one - other);
      }),
    );
  });
});

describe('isSettled', () => {
  it.each([
    [undefined, true, true],
    [undefined, false, false],
    [null, true, true],
    [{ at: 'OBX 1' }, true, true],
    [{ at: 'OBX 1', reviewed: false }, true, false],
    [{ at: 'OBX 1', reviewed: true }, false, true],
    [{ at: 'OBX 1', reviewed: true, signal: ['early'] as const }, true, false],
    [{ at: 'OBX 1', signal: [] }, true, true],
  ])('%j of a source that is attended: %s', (report, attended, settled) => {
    expect(isSettled(report, attended)).toBe(settled);
  });
});

describe('identityDoubtOf', () => {
  const finding = (hold: Finding['hold'], readings: readonly number[]): Finding => ({
    ...{ rule: 'a-rule', verdict: 'held', message: '', advice: '', source: '' },
    readings,
    ...(hold === undefined ? {} : { hold }),
  });
  const doubted = (...findings: Finding[]) =>
    [0, 1, 2].filter((index) => identityDoubtOf(findings)({ index }));

  it('is that of the readings named, or of each', () => {
    expect(doubted()).toEqual([]);
    expect(doubted(finding('value', []), finding(undefined, [1]))).toEqual([]);
    expect(doubted(finding('identity', [2]), finding('identity', [0]))).toEqual([0, 2]);
    expect(doubted(finding('identity', [2]), finding('identity', []))).toEqual([0, 1, 2]);
  });
});
