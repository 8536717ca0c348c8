import {
  deviceRow,
  observationsIn,
  obr,
  obx,
  readingIn,
  row,
  type Circumstances,
} from './deliveries.js';
import { PATIENT } from './messages.js';

const timed = (sent: string, circumstances: Circumstances = {}) =>
  readingIn([row('spo2', '1.1.1.1', '97', { 14: sent })], circumstances);
const zoneless = { 7: '20260301101500' };

describe('the time of a reading', () => {
  test('is OBX-14, else OBR-7', () => {
    expect(timed('20260301095000+0100').takenAt).toBe('2026-03-01T09:50:00+01:00');
    expect(timed('').takenAt).toBe('2026-03-01T10:14:00+01:00');
    expect(timed('""').takenAt).toBe('2026-03-01T10:14:00+01:00');
  });

  test.each([
    ['20260301095000.25+0100', '2026-03-01T09:50:00.250+01:00'],
    ['20260301095000.1234-0330', '2026-03-01T09:50:00.123-03:30'],
    ['20260301085000-0000', '2026-03-01T08:50:00-00:00'],
    ['20260301085000+0000', '2026-03-01T08:50:00+00:00'],
  ])('%p is %p (HL7 v2.9.1 §2A.2.22)', (sent, takenAt) => {
    expect(timed(sent)).toMatchObject({ takenAt });
    expect(timed(sent).report?.doubts).toBeUndefined();
  });

  test('to the minute is remarked; coarser names no moment', () => {
    expect(timed('202603010950+0100')).toMatchObject({
      takenAt: '2026-03-01T09:50:00+01:00',
      report: { doubts: ['time-to-minute-only'] },
    });
    for (const sent of ['2026030109+0100', '20260301', '202603', '2026']) {
      const { takenAt, note, report } = timed(sent);
      expect([takenAt, note, report?.doubts]).toEqual([
        undefined,
        `Time as sent: ${sent}`,
        ['time-imprecise'],
      ]);
    }
  });

  test.each(['yesterday', '20260231095000+0100', '20260301246000', '20260301095000+9900'])(
    '%p is none, and OBR-7 does not stand for it',
    (sent) => {
      const { takenAt, report } = timed(sent);
      expect([takenAt, report?.doubts]).toEqual([undefined, ['time-missing']]);
    },
  );

  test('is missing where nothing tells it', () => {
    const { sets } = observationsIn([PATIENT, obr(''), row('spo2', '1.1.1.1', '97')]);
    expect(sets).toMatchObject([
      { takenAt: null, readings: [{ report: { doubts: ['time-missing'] } }] },
    ]);
  });

  test('before 2000 is that of a clock that nobody set', () => {
    expect(timed('19700101003000+0100')).toMatchObject({
      report: { doubts: ['clock-unset'], deviceTime: '1970-01-01T00:30:00+01:00' },
    });
    expect(timed('19700101003000+0100').takenAt).toBeUndefined();
    expect(timed('20000101010000+0100').takenAt).toBe('2000-01-01T01:00:00+01:00');
  });
});

describe('its zone: its own, that of MSH-7, that of the source (HL7 v2.9.1 §2.13.9.7)', () => {
  const vienna = { profile: { zone: 'Europe/Vienna' } };

  test('in this order, and never that of this machine', () => {
    expect(timed('20260301095000').takenAt).toBe('2026-03-01T09:50:00+01:00');
    expect(timed('20260701095000', vienna).takenAt).toBe('2026-07-01T09:50:00+01:00');
    expect(timed('20260701095000', { ...vienna, header: zoneless }).takenAt).toBe(
      '2026-07-01T09:50:00+02:00',
    );
    const { takenAt, report } = timed('20260301095000', { header: zoneless });
    expect([takenAt, report?.doubts]).toEqual([undefined, ['time-zone-missing']]);
  });

  test.each([
    ['in the hour that comes twice', '20261025023000'],
    ['in the hour that is skipped', '20260329023000'],
  ])('a time %s has none', (_, sent) => {
    const at = { ...vienna, header: zoneless };
    expect(timed(sent, at).report?.doubts).toEqual(['time-zone-missing']);
    expect(timed(`${sent}+0200`, at).report?.doubts).toBeUndefined();
    expect(timed(sent, vienna).report?.doubts).toBeUndefined();
  });

  test('a zone that this program does not know is none', () => {
    const unknown = { profile: { zone: 'Mars/Olympus' }, header: zoneless };
    expect(timed('20260301095000', unknown).report?.doubts).toEqual(['time-zone-missing']);
  });
});

describe('the clocks of devices (MDC_ATTR_TIME_ABS, IHE Devices TF-2 B.8.7)', () => {
  const MONITOR = deviceRow('MDS', '1.0.0.0', { 18: '^^0A1B2CFFFE000012^EUI-64' });
  const clock = (shown: string, reported: string, path = '1.0.0.1') =>
    obx({ 2: 'DTM', 3: '67975^MDC_ATTR_TIME_ABS^MDC', 4: path, 5: shown, 11: 'R', 14: reported });
  const read = (rows: readonly string[], circumstances: Circumstances = {}) =>
    observationsIn([PATIENT, obr(), MONITOR, ...rows], circumstances);

  test('are seen beside the time of the sender', () => {
    const delivery = read([clock('20260301101630+0100', '20260301101400+0100')]);
    expect(delivery.clockPairs).toEqual([
      {
        device: {
          system: 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680',
          value: '0A-1B-2C-FF-FE-00-00-12',
        },
        deviceTimeMs: Date.UTC(2026, 2, 1, 9, 16, 30),
        reporterTimeMs: Date.UTC(2026, 2, 1, 9, 14, 0),
      },
    ]);
    expect(delivery.sets).toEqual([]);
  });

  test('show the clocks of the ward, whatever zone the sender writes', () => {
    const [pair] = read([clock('20260301101400', '20260301091400+0000')], {
      profile: { zone: 'Europe/Vienna' },
      header: { 7: '20260301091500+0000' },
    }).clockPairs;
    expect(pair?.deviceTimeMs).toBe(pair?.reporterTimeMs);
  });

  test.each([
    ['', '20260301101400+0100'],
    ['20260301101630+0100', ''],
    ['20260301', '20260301101400+0100'],
    ['soon', '20260301101400+0100'],
  ])('%p beside %p is no pair', (shown, reported) => {
    expect(read([clock(shown, reported)]).clockPairs).toEqual([]);
  });

  test('a clock in a test is none', () => {
    const rows = [clock('20260301101630+0100', '20260301101400+0100')];
    expect(read(rows, { header: { 11: 'D' } }).clockPairs).toEqual([]);
  });

  test('one of no device is no pair', () => {
    const rows = [clock('20260301101630+0100', '20260301101400+0100')];
    expect(observationsIn([PATIENT, obr(), ...rows]).clockPairs).toEqual([]);
  });

  test('one that was set in between makes both sides doubtful', () => {
    const rows = [
      row('spo2', '1.1.1.1', '97', { 14: '20260301101300+0100' }),
      clock('20260301101000+0100', '20260301101000+0100', '1.0.0.1'),
      clock('20260301111400+0100', '20260301101400+0100', '1.0.0.2'),
    ];
    const doubts = (all: readonly string[]) => read(all).sets[0]?.readings[0]?.report?.doubts;
    expect(doubts(rows)).toEqual(['clock-stepped']);
    expect(doubts(rows.slice(0, 2))).toBeUndefined();
    expect(
      doubts([...rows.slice(0, 2), clock('20260301101459+0100', '20260301101400+0100')]),
    ).toBeUndefined();
  });
});
