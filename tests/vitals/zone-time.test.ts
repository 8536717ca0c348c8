import { utcMs, zoneClock, type WallTime } from '../../src/vitals/zone-time.js';

const wall = (text: string): WallTime => {
  const [year = 0, month = 0, day = 0, hour = 0, minute = 0] = text.split(/[-T:]/).map(Number);
  return { year, month, day, hour, minute, second: 0 };
};
const iso = (epochMs: number) => new Date(epochMs).toISOString();

// Rules of these zones: IANA time zone database.
describe('the clocks of a zone', () => {
  it.each([
    ['Europe/Berlin', '2026-01-15T12:00', ['2026-01-15T11:00:00.000Z']],
    ['Europe/Berlin', '2026-03-29T02:30', []],
    ['Europe/Berlin', '2026-10-25T02:30', ['2026-10-25T00:30:00.000Z', '2026-10-25T01:30:00.000Z']],
    [
      'America/New_York',
      '2026-11-01T01:30',
      ['2026-11-01T05:30:00.000Z', '2026-11-01T06:30:00.000Z'],
    ],
    [
      'Australia/Lord_Howe',
      '2026-04-05T01:45',
      ['2026-04-04T14:45:00.000Z', '2026-04-04T15:15:00.000Z'],
    ],
    ['Asia/Kathmandu', '2026-06-01T00:00', ['2026-05-31T18:15:00.000Z']],
    // Samoa left this day out when it crossed the date line.
    ['Pacific/Apia', '2011-12-30T12:00', []],
    ['UTC', '2026-03-29T02:30', ['2026-03-29T02:30:00.000Z']],
  ])('in %s show %s at %j', (zone, text, moments) => {
    expect(zoneClock(zone).momentsAt(wall(text)).map(iso)).toEqual(moments);
  });

  it('show a skipped time later, by as much as they are moved', () => {
    const berlin = zoneClock('Europe/Berlin');
    expect(iso(berlin.firstMomentAt(wall('2026-03-29T02:30')))).toBe('2026-03-29T01:30:00.000Z');
  });

  it('show a repeated time first before they are put back', () => {
    const berlin = zoneClock('Europe/Berlin');
    expect(iso(berlin.firstMomentAt(wall('2026-10-25T02:30')))).toBe('2026-10-25T00:30:00.000Z');
  });

  it('are those of a zone that is known', () => {
    expect(() => zoneClock('Ward/Seven')).toThrow(RangeError);
  });
});

it('counts years from one, not from 1900', () => {
  expect(iso(utcMs(wall('0099-01-01T00:00')))).toBe('0099-01-01T00:00:00.000Z');
});
