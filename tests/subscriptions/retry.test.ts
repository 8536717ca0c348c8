import fc from 'fast-check';
import { delayMs, readRetryAfter } from '../../src/subscriptions/retry.js';

describe('the wait after a failure', () => {
  it('doubles up to five minutes, and is never less than half of that', () => {
    const whole = (failures: number): number => delayMs(failures, 0, null);
    expect([1, 2, 3, 4].map(whole)).toEqual([1_000, 2_000, 4_000, 8_000]);
    expect([9, 10, 50, 1e9].map(whole)).toEqual([256_000, 300_000, 300_000, 300_000]);
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 10_000 }),
        fc.double({ min: 0, max: 1, maxExcluded: true, noNaN: true }),
        (failures, random) => {
          const delay = delayMs(failures, random, null);
          expect(delay).toBeGreaterThanOrEqual(whole(failures) / 2);
          expect(delay).toBeLessThanOrEqual(whole(failures));
        },
      ),
    );
  });

  it('is what the subscriber asks for, if that is longer, up to an hour', () => {
    expect(delayMs(1, 0, 30_000)).toBe(30_000);
    expect(delayMs(9, 0, 1_000)).toBe(256_000);
    expect(delayMs(1, 0, 86_400_000)).toBe(3_600_000);
  });
});

// RFC 9110 §10.2.3, with the date of its own example of IMF-fixdate (§5.6.7).
it('Retry-After is read as seconds and as a date', () => {
  const nowMs = Date.parse('1994-11-06T08:49:30Z');
  expect(readRetryAfter('120', nowMs)).toBe(120_000);
  expect(readRetryAfter('Sun, 06 Nov 1994 08:49:37 GMT', nowMs)).toBe(7_000);
  expect(readRetryAfter('Sun, 06 Nov 1994 08:49:00 GMT', nowMs)).toBe(0);
  for (const text of ['', '-1', '1.5', 'soon', 'GMT', '99999999999', undefined]) {
    expect(readRetryAfter(text, nowMs)).toBeNull();
  }
});
