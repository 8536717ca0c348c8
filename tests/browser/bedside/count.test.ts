import fc from 'fast-check';
import {
  COUNT_SECONDS,
  interruptCount,
  passTime,
  perMinute,
  readyCount,
  secondsLeft,
  setSeconds,
  startAgain,
  tapCount,
  typeInstead,
  undoTap,
  type Count,
  type CountSeconds,
} from '../../../src/browser/bedside/form/count.js';
import { normaliseReading } from '../../../src/normalise/normalise-reading.js';

/** Starts at `startMs` and taps at these times after it. */
function tapped(seconds: CountSeconds, taps: readonly number[], startMs = 5_000): Count {
  return taps.reduce(
    (count, sinceMs) => tapCount(count, startMs + sinceMs),
    tapCount(readyCount(seconds), startMs),
  );
}

function countOf(count: Count): number | null | undefined {
  return count.state === 'done' ? count.count : undefined;
}

const someSeconds = fc.constantFrom(...COUNT_SECONDS);

describe('counting by touch', () => {
  it('starts at the first tap, which is nought, and counts each one after it', () => {
    const count = passTime(tapped(30, [3_000, 6_000, 9_000]), 35_000);
    expect(count).toEqual({ state: 'done', seconds: 30, count: 3 });
  });

  it('counts no tap at or after the end, however late the page looks', () => {
    expect(countOf(passTime(tapped(15, [5_000, 10_000, 15_000, 15_001]), 99_000))).toBe(2);
  });

  it('takes a bouncing finger for one tap, also at the start', () => {
    expect(countOf(passTime(tapped(15, [60, 1_000, 1_080, 2_000]), 20_000))).toBe(2);
  });

  it('keeps up with the fastest heart that a set takes, 350 a minute', () => {
    const beats = Array.from({ length: 200 }, (_, beat) => Math.round((beat + 1) * (60_000 / 350)));
    expect(countOf(passTime(tapped(30, beats), 40_000))).toBe(174);
  });

  it('leaves the count open when nobody tapped: it is typed', () => {
    expect(passTime(tapped(60, []), 65_100)).toEqual({ state: 'done', seconds: 60, count: null });
  });

  it('says that the signal came late where somebody counted in the head', () => {
    expect(passTime(tapped(30, []), 36_001)).toMatchObject({
      state: 'interrupted',
      why: 'signal-late',
    });
  });

  it('takes taps back one by one, and none before the start', () => {
    const two = tapped(30, [1_000, 2_000]);
    expect(countOf(passTime(undoTap(two), 36_000))).toBe(1);
    const none = undoTap(undoTap(undoTap(two)));
    expect(none).toMatchObject({ state: 'running', taps: [] });
  });

  it('goes on to a minute with what was counted, and is not cut short below what has passed', () => {
    const longer = setSeconds(tapped(30, [1_000, 20_000]), 60, 30_000);
    expect(countOf(passTime(tapCount(longer, 45_000), 65_100))).toBe(3);
    expect(setSeconds(longer, 15, 30_000)).toBe(longer);
  });

  it('is of no use once it was broken off, and starts again at nought', () => {
    const broken = interruptCount(tapped(30, [1_000, 2_000]), 'reloaded');
    expect(broken).toEqual({ state: 'interrupted', seconds: 30, why: 'reloaded', tapped: 2 });
    expect(tapCount(broken, 6_000)).toBe(broken);
    expect(startAgain(broken)).toEqual(readyCount(30));
  });

  it('can be typed without having run', () => {
    expect(typeInstead(readyCount(60))).toEqual({ state: 'done', seconds: 60, count: null });
  });

  it('tells the seconds left, nought only when it is over', () => {
    const running = tapped(30, []);
    expect([5_000, 5_001, 34_999, 35_000].map((at) => secondsLeft(running, at))).toEqual([
      30, 30, 1, 0,
    ]);
  });
});

describe('what a count makes a minute', () => {
  /** By arithmetic: counted from an event on, a steady rate is missed by less than one step, 60/T. */
  it('is a steady rate to within one step', () => {
    fc.assert(
      fc.property(someSeconds, fc.double({ min: 4, max: 300, noNaN: true }), (seconds, rate) => {
        const beats = Math.ceil((rate * seconds) / 60) + 3;
        const times = Array.from({ length: beats }, (_, beat) => ((beat + 1) * 60_000) / rate);
        const count = countOf(passTime(tapped(seconds, times, 0), seconds * 1000 + 1)) ?? 0;
        expect(Math.abs(perMinute(count, seconds) - rate)).toBeLessThanOrEqual(60 / seconds + 1e-9);
      }),
    );
  });

  it('is what the gateway makes of it', () => {
    fc.assert(
      fc.property(someSeconds, fc.integer({ min: 0, max: 1000 }), (seconds, count) => {
        const takenAt = { epochMs: 0, offsetMinutes: 0 };
        const reading = normaliseReading({ vital: 'respiratory-rate', count, seconds }, 0, {
          takenAt,
        });
        expect(reading.values.value?.number).toBe(perMinute(count, seconds));
      }),
    );
  });

  it('does not hang on when the clock of the device stands: only differences count', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 2 ** 40 }),
        fc.array(fc.integer({ min: 1, max: 40_000 }), { maxLength: 60 }),
        (startMs, times) => {
          const taps = [...times].sort((a, b) => a - b);
          const one = passTime(tapped(30, taps, 0), 30_000);
          expect(passTime(tapped(30, taps, startMs), startMs + 30_000)).toEqual(one);
        },
      ),
    );
  });
});
