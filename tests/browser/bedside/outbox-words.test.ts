import fc from 'fast-check';
import type { SetJson } from '../../../src/browser/bedside/door.js';
import { localTime } from '../../../src/browser/bedside/local-time.js';
import { retryWaitMs } from '../../../src/browser/bedside/outbox/retry-wait.js';
import { withRemark } from '../../../src/browser/bedside/outbox/with-remark.js';

describe('the wait before the next attempt', () => {
  it('grows with each failure, to a minute, and never undercuts what the gateway asked for', () => {
    expect([1, 2, 3, 20].map((failures) => retryWaitMs(failures, null, 1))).toEqual([
      2_000, 4_000, 8_000, 60_000,
    ]);
    expect(retryWaitMs(1, 30_000, 0)).toBe(30_000);
    expect(retryWaitMs(3, null, 0)).toBe(4_000);
  });
});

describe('a remark on the clock', () => {
  const set = {
    readings: [{ vital: 'pulse-rate', note: 'x'.repeat(480) }, { vital: 'pulse-rate' }],
  } as unknown as SetJson;

  it('goes into each note that has room for it, and never costs what somebody wrote', () => {
    expect(withRemark(set, 'The clock was 5 min behind.').readings).toEqual([
      set.readings[0],
      { vital: 'pulse-rate', note: 'The clock was 5 min behind.' },
    ]);
    expect(withRemark(set, null)).toBe(set);
  });
});

describe('local time', () => {
  it('names the same second, with its offset', () => {
    fc.assert(
      fc.property(
        fc.date({ min: new Date(0), max: new Date('2100-01-01'), noInvalidDate: true }),
        (at) => {
          const told = localTime(at);
          expect(told).toMatch(/^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d$/);
          expect(Date.parse(told)).toBe(Math.floor(at.getTime() / 1000) * 1000);
        },
      ),
    );
  });
});
