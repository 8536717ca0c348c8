import { associationsIn, observationsIn, obr, row, type Circumstances } from './deliveries.js';
import { PATIENT, type HeaderFields } from './messages.js';

/** The message profile of a patient-device association (IHE Point-of-Care Identity Management). */
const HEADER: HeaderFields = {
  3: 'WARDLINK',
  21: 'IHE_DEV_051^IHE PCD^1.3.6.1.4.1.19376.1.6.1.51.1^ISO',
};
const ORDER_OF_ASSOCIATION =
  'OBR|||A-900|69136^MDC_OBS_ASSOCIATION_PATIENT_DEVICE^MDC|||20260301090000+0100|20260301093000+0100';
const VISIT = 'PV1||I|NORTH^4^B';
const AUTHOR = 'PRT|2|UC||AUT^AUT^HL70912|N417^Marsh^Tilda';
const MONITOR = {
  system: 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680',
  value: '0A-1B-2C-FF-FE-00-00-12',
};

const event = (code: string, status = 'F') =>
  `OBX|1|CWE|68487^MDC_ATTR_EVT_COND^MDC||${code}||||||${status}`;
const ASSOCIATE = event('198332^MDC_EVT_ASSOCIATION_PATIENT_DEVICE^MDC');
const DISASSOCIATE = event('198334^MDC_EVT_DISASSOCIATION_PATIENT_DEVICE^MDC', 'R');
const equipment = (begin: string, end = '') =>
  `PRT|1|UC||EQUIP^EQUIP^HL70912|||||NORTH^4^B|MON-12^^0A1B2CFFFE000012^EUI-64|${begin}|${end}`;

const read = (segments: readonly string[], circumstances: Circumstances = {}) =>
  associationsIn(segments, { header: HEADER, ...circumstances });

describe('a device that becomes a patient’s', () => {
  test('from the beginning of its part on (PRT-11)', () => {
    const { associations, faults } = read([
      PATIENT,
      VISIT,
      ORDER_OF_ASSOCIATION,
      ASSOCIATE,
      equipment('20260301090500+0100'),
      AUTHOR,
    ]);
    expect(faults).toEqual([]);
    expect(associations).toEqual([
      {
        kind: 'associate',
        at: 'OBX 1',
        device: MONITOR,
        patient: {
          identifier: { system: 'urn:example:mrn', value: 'WB-7710' },
          birthDate: '1958-04-12',
          familyName: 'Winterbourne',
        },
        time: '2026-03-01T09:05:00+01:00',
        validated: true,
        recorder: { identifier: { system: 'urn:v2:WARDLINK', value: 'N417' } },
        location: 'NORTH/4/B',
      },
    ]);
  });

  test('else from OBR-7; unvalidated with status R', () => {
    const row = event('198332^MDC_EVT_ASSOCIATION_PATIENT_DEVICE^MDC', 'R');
    expect(read([PATIENT, ORDER_OF_ASSOCIATION, row, equipment('')]).associations).toMatchObject([
      { time: '2026-03-01T09:00:00+01:00', validated: false },
    ]);
  });

  test('is told by the code of its order where MSH-21 says nothing', () => {
    const segments = [PATIENT, ORDER_OF_ASSOCIATION, ASSOCIATE, equipment('')];
    expect(associationsIn(segments, { header: { 21: '' } }).associations).toHaveLength(1);
  });

  test('two devices of one event are two associations', () => {
    const second = 'PRT|2|UC||EQUIP^EQUIP^HL70912||||||OX-7^WARDDEV';
    const segments = [PATIENT, ORDER_OF_ASSOCIATION, ASSOCIATE, equipment(''), second];
    expect(read(segments).associations.map(({ device }) => device.value)).toEqual([
      MONITOR.value,
      'OX-7',
    ]);
  });
});

describe('a device that ceases to be a patient’s', () => {
  test('at the end of its part (PRT-12), else at OBR-8', () => {
    const at = (end: string) =>
      read([PATIENT, ORDER_OF_ASSOCIATION, DISASSOCIATE, equipment('', end)]).associations;
    expect(at('20260301111500+0100')).toMatchObject([
      { kind: 'disassociate', time: '2026-03-01T11:15:00+01:00', validated: false },
    ]);
    expect(at('')).toMatchObject([{ time: '2026-03-01T09:30:00+01:00' }]);
  });

  test('whoever the patient is', () => {
    const segments = [
      'PID|',
      ORDER_OF_ASSOCIATION,
      DISASSOCIATE,
      equipment('', '20260301111500+0100'),
    ];
    expect(read(segments).associations).toMatchObject([{ patient: null }]);
  });
});

describe('what leaves open whose a device is makes a fault, not an association', () => {
  const complete = [PATIENT, ORDER_OF_ASSOCIATION, ASSOCIATE, equipment('')];
  const instead = (place: number, segment: string) =>
    complete.map((one, at) => (at === place ? segment : one));

  test.each([
    ['no patient', instead(0, 'PID|'), '101', { segment: 'PID', field: 3 }],
    [
      'a patient whom nobody knows',
      instead(0, `${PATIENT}${'|'.repeat(23)}Y`),
      '101',
      { segment: 'PID', field: 3 },
    ],
    ['no PID', complete.slice(1), '101', null],
    ['no device', complete.slice(0, 3), '101', { segment: 'OBX' }],
    [
      'another event',
      instead(2, event('198336^MDC_EVT_OTHER^MDC')),
      '103',
      { segment: 'OBX', field: 5 },
    ],
    [
      'a name of another event',
      instead(2, event('198332^MDC_EVT_DISASSOCIATION_PATIENT_DEVICE^MDC')),
      '103',
      { field: 5 },
    ],
    [
      'another status',
      instead(2, event('198332^MDC_EVT_ASSOCIATION_PATIENT_DEVICE^MDC', 'X')),
      '103',
      { field: 11 },
    ],
    ['a time that is none', instead(3, equipment('soon')), '101', { segment: 'OBX' }],
    ['a time to the day', instead(3, equipment('20260301')), '101', { segment: 'OBX' }],
    ['a reading', instead(2, row('spo2', '1.1.1.1', '97')), '103', { segment: 'OBX', field: 3 }],
    ['no row', complete.slice(0, 2), '101', null],
  ])('%s', (_, segments, code, location) => {
    const { associations, faults } = read(segments);
    expect(associations).toEqual([]);
    expect(faults).toMatchObject([{ severity: 'E', code, location }]);
  });

  test('a time without a zone, where none is known', () => {
    const header = { ...HEADER, 7: '20260301101500' };
    const segments = instead(3, equipment('20260301090500'));
    expect(read(segments, { header }).faults).toMatchObject([{ code: '101' }]);
    const profile = { zone: 'Europe/Vienna' };
    expect(read(segments, { header, profile }).associations).toMatchObject([
      { time: '2026-03-01T09:05:00+01:00' },
    ]);
  });
});

test('a debugging message is marked, so that nobody acts on it (HL7 table 0103)', () => {
  const segments = [PATIENT, ORDER_OF_ASSOCIATION, ASSOCIATE, equipment('')];
  expect(read(segments, { header: { ...HEADER, 11: 'D' } }).test).toBe(true);
});

test('an event row among readings tells nothing of a device', () => {
  const { sets } = observationsIn([PATIENT, obr(), ASSOCIATE]);
  expect(sets).toMatchObject([{ readings: [], unread: [{ reason: 'not-a-vital-sign' }] }]);
});
