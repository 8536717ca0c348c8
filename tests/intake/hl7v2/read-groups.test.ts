import { deviceRow, obr, observationsIn, PROFILE, row } from './deliveries.js';
import { headerOf, messageOf, PATIENT } from './messages.js';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { readHl7 } from '../../../src/intake/hl7v2/read-hl7.js';

const OTHER = 'PID|||WB-8822^^^NORTHMRN^MR||Ashdown^Piers^^^^^L||19710923|M';
const spo2 = (value: string, fields = {}) => row('spo2', '1.1.1.1', value, fields);
const whoHasWhat = (segments: readonly string[]) =>
  observationsIn(segments).sets.map(({ patient, readings }) => [
    patient?.identifier.value ?? null,
    ...readings.map(({ value }) => value),
  ]);

describe('patient groups (IHE Devices TF-2 §3.1.4.1.1)', () => {
  test('several patients in one message, set ids starting anew', () => {
    expect(
      whoHasWhat([PATIENT, obr(), spo2('97'), obr(), spo2('96'), OTHER, obr(), spo2('91')]),
    ).toEqual([
      ['WB-7710', '97', '96'],
      ['WB-8822', '91'],
    ]);
  });

  test('one that names nobody never inherits the patient before it', () => {
    expect(whoHasWhat([PATIENT, obr(), spo2('97'), 'PID|', obr(), spo2('91')])).toEqual([
      ['WB-7710', '97'],
      [null, '91'],
    ]);
    expect(whoHasWhat([obr(), spo2('97')])).toEqual([[null, '97']]);
    expect(whoHasWhat([PATIENT, obr(), spo2('97'), 'PID|||""', obr(), spo2('91')])[1]).toEqual([
      null,
      '91',
    ]);
  });

  test('a PV1 that follows no PID may stand for one that was lost', () => {
    const delivery = observationsIn([
      PATIENT,
      'PV1||I|NORTH^4^B',
      obr(),
      spo2('97'),
      'PV1||I|SOUTH^2^A',
      obr(),
      spo2('91'),
    ]);
    expect(
      delivery.sets.map(({ patient, location }) => [patient?.identifier.value, location]),
    ).toEqual([
      ['WB-7710', 'NORTH/4/B'],
      [undefined, 'SOUTH/2/A'],
    ]);
    expect(delivery.faults).toMatchObject([
      { code: '100', severity: 'W', location: { segment: 'PV1', occurrence: 2 } },
    ]);
  });

  test('a PID after the readings is not theirs', () => {
    expect(whoHasWhat([obr(), spo2('97'), PATIENT])).toEqual([[null, '97']]);
  });

  test('of two patients in a row nobody can tell whose the readings are', () => {
    const delivery = observationsIn([PATIENT, OTHER, obr(), spo2('97')]);
    expect(delivery.sets).toMatchObject([
      { patient: { identifier: { value: 'WB-8822' }, doubts: ['identifiers-conflict'] } },
    ]);
    expect(delivery.faults).toMatchObject([
      { code: '100', location: { segment: 'PID', occurrence: 2 } },
    ]);
    const twice = observationsIn([PATIENT, PATIENT, obr(), spo2('97')]);
    expect(twice.sets[0]?.patient).not.toHaveProperty('doubts');
  });

  test('a row without an OBR is read and reported', () => {
    const delivery = observationsIn([PATIENT, spo2('97', { 14: '20260301101300+0100' })]);
    expect(delivery.sets[0]?.readings).toMatchObject([{ takenAt: '2026-03-01T10:13:00+01:00' }]);
    expect(delivery.faults).toMatchObject([
      { code: '100', location: { segment: 'OBX', occurrence: 1 } },
    ]);
  });

  test('segments that the grammar does not know are passed over (HL7 v2.9.1 §2.6, recipient rules)', () => {
    expect(
      whoHasWhat([
        'UAC|x',
        PATIENT,
        'PD1|1',
        'NK1|1',
        obr(),
        'NTE|1||x',
        'ZZZ|1',
        spo2('97'),
        'NTE|1',
      ]),
    ).toEqual([['WB-7710', '97']]);
  });
});

describe('places in a message', () => {
  test('count all OBX of the message from 0, whatever their set ids say', () => {
    const { sets } = observationsIn([
      PATIENT,
      obr(),
      deviceRow('MDS', '1.0.0.0'),
      spo2('97', { 1: '1' }),
      OTHER,
      obr(),
      deviceRow('MDS', '1.0.0.0'),
      row('breathing', '1.1.1.1', '', { 1: '1' }),
      spo2('91', { 1: '2' }),
    ]);
    expect(sets.map(({ readings, unread }) => [readings[0]?.index, unread?.[0]?.index])).toEqual([
      [1, undefined],
      [4, 3],
    ]);
    expect(sets[1]?.readings[0]?.report?.at).toBe('OBX 5');
  });

  test('a pressure has that of its first row, wherever its parts stand', () => {
    const [set] = observationsIn([
      PATIENT,
      obr(),
      row('dia', '1.1.1.2', '78'),
      spo2('97'),
      row('sys', '1.1.1.3', '124'),
    ]).sets;
    expect(set?.readings).toMatchObject([
      { index: 0, systolic: '124', diastolic: '78', report: { at: 'OBX 1, 3' } },
      { index: 1, value: '97' },
    ]);
  });
});

describe('sets', () => {
  test('one for each operator of a patient, so that each reading has its own', () => {
    const { sets } = observationsIn([
      PATIENT,
      obr(),
      spo2('97', { 16: 'N417^Marsh^Tilda' }),
      row('temperature', '1.2.1.1', '37.1', { 16: 'N502^Okoro^Sam' }),
      row('breathing', '1.3.1.1', '17', { 16: 'N417^Marsh^Tilda' }),
    ]);
    expect(
      sets.map(({ recorder, readings }) => [recorder?.identifier.value, readings.length]),
    ).toEqual([
      ['N417', 2],
      ['N502', 1],
    ]);
  });

  test('a set has the latest of its times, and none if a reading lacks one', () => {
    const early = spo2('97', { 14: '20260301101000+0100' });
    const late = row('breathing', '1.3.1.1', '17', { 14: '20260301100500+0000' });
    expect(observationsIn([PATIENT, obr(), early, late]).sets[0]?.takenAt).toBe(
      '2026-03-01T10:05:00+00:00',
    );
    expect(
      observationsIn([PATIENT, obr(), early, row('breathing', '1.3.1.1', '17', { 14: 'x' })])
        .sets[0]?.takenAt,
    ).toBeNull();
  });

  test('a group of which nothing can be read still tells its rows; one of devices alone is none', () => {
    const unmapped = 'OBX|1|NM|9^Glow^99NORTH|1.1.1.1|4|||||||';
    const { sets } = observationsIn([
      PATIENT,
      obr(),
      unmapped,
      OTHER,
      obr(),
      deviceRow('MDS', '1.0.0.0'),
    ]);
    expect(sets).toMatchObject([
      {
        patient: { identifier: { value: 'WB-7710' } },
        readings: [],
        unread: [{ reason: 'code-unmapped' }],
      },
    ]);
    expect(sets).toHaveLength(1);
  });

  test.each(['D', 'T'])(
    'all of a message with processing id %s is test data (HL7 table 0103)',
    (id) => {
      const delivery = observationsIn([PATIENT, obr(), spo2('97')], { header: { 11: id } });
      expect(delivery.test).toBe(true);
      expect(delivery.sets[0]?.readings[0]?.report?.doubts).toEqual(['test-data']);
    },
  );
});

describe('a message of which a part could not be told', () => {
  const damaged = (...segments: string[]) =>
    readHl7(parseMessage(messageOf(headerOf(), ...segments)), PROFILE);

  test('brings nothing, because a lost line may be a PID', () => {
    const delivery = damaged(PATIENT, obr(), spo2('97'), 'PI|||WB-8822', obr(), spo2('91'));
    expect(delivery).toMatchObject({
      kind: 'observations',
      sets: [],
      faults: [{ code: '100', severity: 'E' }],
    });
  });

  test('nor does one whose header is refused', () => {
    const bytes = messageOf(headerOf({ 12: '3.0' }), PATIENT, obr(), spo2('97'));
    expect(readHl7(parseMessage(bytes), PROFILE)).toMatchObject({
      sets: [],
      faults: [{ code: '203' }],
    });
  });
});
