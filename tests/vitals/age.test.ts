import { ageAt, isAtLeast } from '../../src/vitals/age.js';
import type { Moment } from '../../src/vitals/shapes.js';

const at = (text: string, offsetMinutes = 0): Moment => ({
  epochMs: Date.parse(text),
  offsetMinutes,
});

const exact = (days: number, months: number) => {
  const point = { days, months };
  return { youngest: point, oldest: point };
};

describe('ageAt', () => {
  it('counts completed days and calendar months', () => {
    expect(ageAt('2026-02-14', at('2026-03-13T10:00:00Z'))).toEqual(exact(27, 0));
    expect(ageAt('2026-02-14', at('2026-03-14T10:00:00Z'))).toEqual(exact(28, 1));
    expect(ageAt('1961-05-23', at('2026-05-22T10:00:00Z'))?.oldest.months).toBe(65 * 12 - 1);
    expect(ageAt('1961-05-23', at('2026-05-23T10:00:00Z'))?.oldest.months).toBe(65 * 12);
  });

  it('takes the day of the zone in which the time was told', () => {
    const justAfterMidnightInTheEast = at('2026-03-13T23:30:00Z', 60);
    expect(ageAt('2026-03-14', justAfterMidnightInTheEast)).toEqual(exact(0, 0));
    expect(ageAt('2026-03-14', at('2026-03-13T23:30:00Z'))).toBeNull();
  });

  it('counts over a leap day, and from one', () => {
    expect(ageAt('2024-02-29', at('2025-02-28T10:00:00Z'))?.oldest).toEqual({
      days: 365,
      months: 11,
    });
    expect(ageAt('2024-02-29', at('2025-03-01T10:00:00Z'))?.oldest).toEqual({
      days: 366,
      months: 12,
    });
  });

  it('is a span where the birth date lacks a month or a day', () => {
    const age = ageAt('2020', at('2026-03-14T10:00:00Z'));
    expect(age?.youngest.months).toBe(62);
    expect(age?.oldest.months).toBe(74);
    expect(ageAt('2025-02', at('2026-02-15T10:00:00Z'))).toEqual({
      youngest: { days: 352, months: 11 },
      oldest: { days: 379, months: 12 },
    });
  });

  it('is nought at the youngest for a birth month that is not over yet', () => {
    expect(ageAt('2026-03', at('2026-03-14T10:00:00Z'))).toEqual({
      youngest: { days: 0, months: 0 },
      oldest: { days: 13, months: 0 },
    });
  });

  it.each([null, '', '14.03.2026', 'unknown'])('is unknown for the birth date %p', (birthDate) => {
    expect(ageAt(birthDate, at('2026-03-14T10:00:00Z'))).toBeNull();
  });

  it('is unknown before birth, at the precision of the date', () => {
    expect(ageAt('2026-03-15', at('2026-03-14T10:00:00Z'))).toBeNull();
    expect(ageAt('2026-04', at('2026-03-31T10:00:00Z'))).toBeNull();
    expect(ageAt('2026', at('2026-01-01T10:00:00Z'))).not.toBeNull();
  });
});

describe('isAtLeast', () => {
  it('is sure only when the youngest possible age is', () => {
    const moment = at('2026-03-14T10:00:00Z');
    expect(isAtLeast(ageAt('2025-03-14', moment), 12)).toBe(true);
    expect(isAtLeast(ageAt('2025-03-15', moment), 12)).toBe(false);
    expect(isAtLeast(ageAt('2025', moment), 12)).toBe(false);
    expect(isAtLeast(null, 12)).toBe(false);
  });
});
