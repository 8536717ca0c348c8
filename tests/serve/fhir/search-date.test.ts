import fc from 'fast-check';
import { rangesOf, readStatedTime } from '../../../src/serve/fhir/search-date.js';
import { utcMs, zoneClock } from '../../../src/vitals/zone-time.js';

const paris = zoneClock('Europe/Paris').firstMomentAt;
const NOW_MS = Date.parse('2026-03-11T00:00:00Z');

function matches(value: string, moment: string, siteMs = utcMs): boolean {
  const ms = Date.parse(moment);
  return rangesOf(readStatedTime(value, siteMs), NOW_MS).some(
    ({ fromMs, toMs }) => (fromMs === null || ms >= fromMs) && (toMs === null || ms < toMs),
  );
}

describe('prefixes', () => {
  // FHIR R4 §3.1.1.4.5, the examples of its table for moments; from memory, unconfirmed.
  it.each([
    ['eq2013-01-14', '2013-01-14T00:00:00Z', true],
    ['eq2013-01-14', '2013-01-14T10:00:00Z', true],
    ['eq2013-01-14', '2013-01-15T00:00:00Z', false],
    ['ne2013-01-14', '2013-01-15T00:00:00Z', true],
    ['ne2013-01-14', '2013-01-14T00:00:00Z', false],
    ['ne2013-01-14', '2013-01-14T10:00:00Z', false],
    ['lt2013-01-14T10:00Z', '2013-01-14T09:59:00Z', true],
    ['lt2013-01-14T10:00Z', '2013-01-14T10:00:00Z', false],
    ['gt2013-01-14T10:00Z', '2013-01-14T10:00:30Z', false],
    ['gt2013-01-14T10:00Z', '2013-01-14T10:01:00Z', true],
    ['ge2013-03-14', '2013-03-14T00:00:00Z', true],
    ['ge2013-03-14', '2013-03-13T23:59:59.999Z', false],
    ['le2013-03-14', '2013-03-14T23:59:59.999Z', true],
    ['le2013-03-14', '2013-03-15T00:00:00Z', false],
    ['sa2013-03-14', '2013-03-14T23:59:00Z', false],
    ['sa2013-03-14', '2013-03-15T00:00:00Z', true],
    ['eb2013-03-14', '2013-03-14T00:00:00Z', false],
    ['eb2013-03-14', '2013-03-13T23:59:59Z', true],
    // The same section recommends a tenth of the gap between now and the date: here of ten days.
    ['ap2026-03-01T00:00:00Z', '2026-03-01T23:59:59Z', true],
    ['ap2026-03-01T00:00:00Z', '2026-02-28T00:00:01Z', true],
    ['ap2026-03-01T00:00:00Z', '2026-03-02T01:00:00Z', false],
  ])('%s and %s: %s', (value, moment, expected) => {
    expect(matches(value, moment)).toBe(expected);
  });
});

describe('precision', () => {
  it.each([
    ['2026', '2026-01-01T00:00:00Z', '2027-01-01T00:00:00Z'],
    ['2026-12', '2026-12-01T00:00:00Z', '2027-01-01T00:00:00Z'],
    ['2024-02-29', '2024-02-29T00:00:00Z', '2024-03-01T00:00:00Z'],
    ['2026-03-01T08:15Z', '2026-03-01T08:15:00Z', '2026-03-01T08:16:00Z'],
    ['2026-03-01T08:15:10Z', '2026-03-01T08:15:10Z', '2026-03-01T08:15:11Z'],
    ['2026-03-01T08:15:10.5Z', '2026-03-01T08:15:10.500Z', '2026-03-01T08:15:10.600Z'],
    ['2026-03-01T08:15:10.123Z', '2026-03-01T08:15:10.123Z', '2026-03-01T08:15:10.124Z'],
    ['2026-03-01T08:15:10+02:00', '2026-03-01T06:15:10Z', '2026-03-01T06:15:11Z'],
    ['2026-03-01T08:15:10-05:30', '2026-03-01T13:45:10Z', '2026-03-01T13:45:11Z'],
    ['2016-12-31T23:59:60Z', '2017-01-01T00:00:00Z', '2017-01-01T00:00:01Z'],
    ['0099', '0099-01-01T00:00:00Z', '0100-01-01T00:00:00Z'],
  ])('%s lasts from %s to %s', (value, from, to) => {
    const { fromMs, toMs } = readStatedTime(value, utcMs);
    expect([fromMs, toMs]).toEqual([Date.parse(from), Date.parse(to)]);
  });

  it('of a microsecond holds the whole milliseconds in it', () => {
    expect(matches('gt2026-03-01T08:15:10.123456Z', '2026-03-01T08:15:10.123Z')).toBe(false);
    expect(matches('gt2026-03-01T08:15:10.123456Z', '2026-03-01T08:15:10.124Z')).toBe(true);
    expect(matches('2026-03-01T08:15:10.123456Z', '2026-03-01T08:15:10.123Z')).toBe(false);
    expect(matches('2026-03-01T08:15:10.123000Z', '2026-03-01T08:15:10.123Z')).toBe(true);
  });

  it('gt and le, lt and ge part all moments between them', () => {
    fc.assert(
      fc.property(
        fc.date({ min: new Date('1990-01-01'), max: new Date('2060-01-01'), noInvalidDate: true }),
        fc.integer({ min: -2e9, max: 2e9 }),
        fc.constantFrom(4, 7, 10),
        (date, awayMs, length) => {
          const value = date.toISOString().slice(0, length);
          const moment = new Date(date.getTime() + awayMs).toISOString();
          expect(matches(`gt${value}`, moment, paris)).toBe(!matches(`le${value}`, moment, paris));
          expect(matches(`lt${value}`, moment, paris)).toBe(!matches(`ge${value}`, moment, paris));
          expect(matches(`eq${value}`, moment, paris)).toBe(!matches(`ne${value}`, moment, paris));
        },
      ),
    );
  });
});

describe('times without an offset', () => {
  // European summer time 2026: 29 March 01:00 UTC to 25 October 01:00 UTC (Directive 2000/84/EC).
  it.each([
    ['2026-03-29', '2026-03-28T23:00:00Z', '2026-03-29T22:00:00Z', '2026-03-29'],
    ['2026-10-25', '2026-10-24T22:00:00Z', '2026-10-25T23:00:00Z', '2026-10-25'],
    ['2026-07', '2026-06-30T22:00:00Z', '2026-07-31T22:00:00Z', '2026-07'],
    ['2026-10-25T02:30', '2026-10-25T00:30:00Z', '2026-10-25T00:31:00Z', '2026-10-25T02:30+02:00'],
    ['2026-03-29T02:30', '2026-03-29T01:30:00Z', '2026-03-29T01:31:00Z', '2026-03-29T02:30+01:00'],
    [
      'ge2026-01-05T07:00:00',
      '2026-01-05T06:00:00Z',
      '2026-01-05T06:00:01Z',
      'ge2026-01-05T07:00:00+01:00',
    ],
  ])('%s in Paris lasts from %s to %s', (value, from, to, resolved) => {
    const read = readStatedTime(value, paris);
    expect([read.fromMs, read.toMs]).toEqual([Date.parse(from), Date.parse(to)]);
    expect(read.resolved).toBe(resolved);
    // What the self link shows is read as the same.
    expect(readStatedTime(read.resolved, paris)).toMatchObject({
      fromMs: read.fromMs,
      toMs: read.toMs,
    });
  });

  it('show the clock of the site at every moment outside a change of clocks', () => {
    const zone = new Intl.DateTimeFormat('sv-SE', {
      timeZone: 'America/New_York',
      dateStyle: 'short',
      timeStyle: 'medium',
    });
    const newYork = zoneClock('America/New_York').firstMomentAt;
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 4e9 }), (seconds) => {
        const shown = zone.format(seconds * 1000).replace(' ', 'T');
        const { fromMs } = readStatedTime(shown, newYork);
        // In the hour that occurs twice the first is meant.
        expect([seconds * 1000, seconds * 1000 - 3_600_000]).toContain(fromMs);
        expect(zone.format(fromMs).replace(' ', 'T')).toBe(shown);
      }),
    );
  });
});

describe('values that are no time', () => {
  it.each([
    ['2026-02-29', /no calendar/],
    ['2026-04-31', /no calendar/],
    ['2026-00', /no calendar/],
    ['0000-01-01', /no calendar/],
    ['2026-03-01T24:00Z', /no clock/],
    ['2026-03-01T08:60Z', /no clock/],
    ['2026-03-01T08:15:00 01:00', /%2B/],
    ['2026-03-01T08:15:00+14:01', /offset/],
    ['2026-03-01T08Z', /not a FHIR date/],
    ['2026-3-1', /not a FHIR date/],
    ['2026-03-01Z', /not a FHIR date/],
    ['', /not a FHIR date/],
    ['GT2026', /not a FHIR date/],
  ])('%s', (value, words) => {
    expect(() => readStatedTime(value, utcMs)).toThrow(words);
  });

  it('never throw anything but a fault that can be told', () => {
    fc.assert(
      fc.property(fc.stringMatching(/^[gelt]{0,2}[0-9T:.Z+-]{0,25}$/), (value) => {
        try {
          const { fromMs, toMs } = readStatedTime(value, paris);
          expect(fromMs).toBeLessThanOrEqual(toMs);
        } catch (error) {
          expect((error as Error).name).toBe('ValueFault');
        }
      }),
    );
  });
});
