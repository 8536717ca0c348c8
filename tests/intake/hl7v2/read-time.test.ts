import fc from 'fast-check';
import { readTime, readWrittenTime } from '../../../src/intake/hl7v2/read-time.js';
import { writeTime } from '../../../src/intake/hl7v2/write-time.js';
import { zoneClock } from '../../../src/vitals/zone-time.js';

const berlin = { kind: 'zone', clock: zoneClock('Europe/Berlin') } as const;
const newYork = { kind: 'zone', clock: zoneClock('America/New_York') } as const;

/** The moment in ISO form with its offset and precision, or the reason why there is none. */
function told(text: string, supposed: Parameters<typeof readTime>[1] = null): string {
  const time = readTime(text, supposed);
  if (time.kind === 'fault') return time.reason;
  return `${new Date(time.epochMs).toISOString()} ${time.offsetMinutes} ${time.precision}`;
}

// Values of the examples of HL7 v2.9.1 §2A.2.22, and its words on precision.
describe('times with a zone', () => {
  it.each([
    ['19760704010159-0500', '1976-07-04T06:01:59.000Z -300 second'],
    ['19760704010159-0400', '1976-07-04T05:01:59.000Z -240 second'],
    ['19981004010159+0100', '1998-10-04T00:01:59.000Z 60 second'],
    ['2026+0000', '2026-01-01T00:00:00.000Z 0 year'],
    ['199904-0500', '1999-04-01T05:00:00.000Z -300 month'],
    ['19880705+0000', '1988-07-05T00:00:00.000Z 0 day'],
    ['1988070500+0000', '1988-07-05T00:00:00.000Z 0 hour'],
    ['198807050000+0000', '1988-07-05T00:00:00.000Z 0 minute'],
    ['20260301101500.5+0100', '2026-03-01T09:15:00.500Z 60 millisecond'],
    ['20260301101500.05+0100', '2026-03-01T09:15:00.050Z 60 millisecond'],
    ['20260301101500.9999+0100', '2026-03-01T09:15:00.999Z 60 millisecond'],
    ['20260301101500+0545', '2026-03-01T04:30:00.000Z 345 second'],
    ['20260301101500+1400', '2026-02-28T20:15:00.000Z 840 second'],
    ['20240229000000-0000', '2024-02-29T00:00:00.000Z 0 second'],
    ['00990101+0000', '0099-01-01T00:00:00.000Z 0 day'],
  ])('%s is %s', (text, expected) => {
    expect(told(text)).toBe(expected);
  });

  it('tell UTC from the local time of Greenwich (HL7 v2.9.1 §2A.2.22)', () => {
    expect(readTime('2026030110-0000', null)).toMatchObject({
      offsetKnown: false,
      zone: 'written',
    });
    expect(readTime('2026030110+0000', null)).toMatchObject({ offsetKnown: true, zone: 'written' });
  });

  it('heed nothing that is supposed', () => {
    expect(told('20260301101500+0100', newYork)).toBe(told('20260301101500+0100'));
  });
});

describe('what is no time', () => {
  it.each([
    ['malformed', ''],
    ['malformed', '""'],
    ['malformed', '26'],
    ['malformed', '20263'],
    ['malformed', '2026030'],
    ['malformed', '2026030110150'],
    ['malformed', '20260301101500.+0100'],
    ['malformed', '20260301101500.12345+0100'],
    ['malformed', '20260301101500,5+0100'],
    ['malformed', '20260301101500123+0100'],
    ['malformed', '202603011015.5+0100'],
    ['malformed', '20260301101500+01'],
    ['malformed', '20260301101500+01:00'],
    ['malformed', '20260301101500Z'],
    ['malformed', '2026-03-01T10:15:00+01:00'],
    ['malformed', ' 20260301101500+0100'],
    ['malformed', '20260301101500+0100\n'],
    ['malformed', '٢٠٢٦'],
    ['impossible', '20260230+0000'],
    ['impossible', '20250229+0000'],
    ['impossible', '21000229+0000'],
    ['impossible', '20261301+0000'],
    ['impossible', '20260001+0000'],
    ['impossible', '20260100+0000'],
    ['impossible', '202603012400+0000'],
    ['impossible', '20260301240000+0000'],
    ['impossible', '202603011060+0000'],
    ['impossible', '20161231235960+0000'],
    ['impossible', '00000101+0000'],
    ['impossible', '20260301101500+1401'],
    ['impossible', '20260301101500-9900'],
    ['impossible', '20260301101500+0060'],
    ['zoneless', '20260301101500'],
    ['zoneless', '20260301'],
  ])('%s: %j', (reason, text) => {
    expect(told(text)).toBe(reason);
  });

  it('never throws', () => {
    fc.assert(
      fc.property(fc.stringMatching(/^[0-9.+-]{0,26}$/), (text) => {
        expect(['moment', 'fault']).toContain(readTime(text, berlin).kind);
      }),
    );
  });
});

// Days on which the clocks are moved: IANA time zone database, Europe/Berlin and America/New_York, 2026.
describe('times without a zone', () => {
  it.each([
    ['20260301101500', '2026-03-01T09:15:00.000Z 60 second'],
    ['20260701101500.25', '2026-07-01T08:15:00.250Z 120 millisecond'],
    ['20260329015959', '2026-03-29T00:59:59.000Z 60 second'],
    ['20260329030000', '2026-03-29T01:00:00.000Z 120 second'],
    ['20260329020000', 'ambiguous'],
    ['202603290230', 'ambiguous'],
    ['20260329025959', 'ambiguous'],
    ['20261025015959', '2026-10-24T23:59:59.000Z 120 second'],
    ['20261025020000', 'ambiguous'],
    ['20261025025959.9', 'ambiguous'],
    ['2026102502', 'ambiguous'],
    ['20261025030000', '2026-10-25T02:00:00.000Z 60 second'],
    ['20260329', '2026-03-28T23:00:00.000Z 60 day'],
    ['20261025', '2026-10-24T22:00:00.000Z 120 day'],
  ])('in Berlin: %s is %s', (text, expected) => {
    expect(told(text, berlin)).toBe(expected);
  });

  it('in New York', () => {
    expect(told('20261101005959', newYork)).toBe('2026-11-01T04:59:59.000Z -240 second');
    expect(told('20261101010000', newYork)).toBe('ambiguous');
    expect(told('20260308020000', newYork)).toBe('ambiguous');
  });

  it('are a day also where that begins while the clocks are moved', () => {
    // America/Santiago, 2026-09-06: midnight is skipped.
    const santiago = { kind: 'zone', clock: zoneClock('America/Santiago') } as const;
    expect(told('20260906', santiago)).toBe('2026-09-06T04:00:00.000Z -240 day');
    expect(told('20260906000000', santiago)).toBe('ambiguous');
  });

  it('have the offset of the message', () => {
    expect(readTime('20260301101500', { kind: 'offset', minutes: -210 })).toEqual({
      kind: 'moment',
      epochMs: Date.parse('2026-03-01T13:45:00Z'),
      offsetMinutes: -210,
      offsetKnown: true,
      precision: 'second',
      zone: 'supposed',
    });
  });

  it('are known as they were written', () => {
    expect(readWrittenTime('19580412')).toEqual({
      kind: 'written',
      year: 1958,
      month: 4,
      day: 12,
      hour: 0,
      minute: 0,
      second: 0,
      millisecond: 0,
      precision: 'day',
      offsetMinutes: null,
      offsetKnown: false,
    });
  });
});

describe('times that are written', () => {
  it('are read as the same moment', () => {
    const moment = fc.record({
      epochMs: fc.integer({ min: Date.parse('1000-01-02'), max: Date.parse('9999-12-30') }),
      offsetMinutes: fc.integer({ min: -840, max: 840 }),
    });
    fc.assert(
      fc.property(moment, (one) => {
        expect(readTime(writeTime(one), null)).toMatchObject({ kind: 'moment', ...one });
      }),
    );
  });

  it('have milliseconds and a zone', () => {
    const epochMs = Date.parse('2026-03-01T09:15:00.040Z');
    expect(writeTime({ epochMs, offsetMinutes: -210 })).toBe('20260301054500.040-0330');
    expect(writeTime({ epochMs, offsetMinutes: 0 })).toBe('20260301091500.040+0000');
  });
});
