import { patientEventIn, type Circumstances } from './deliveries.js';

const adt = (event: string, segments: readonly string[], circumstances: Circumstances = {}) =>
  patientEventIn(segments, {
    ...circumstances,
    header: { 3: 'ADMISSIONS', 9: `ADT^${event}`, 21: '', ...circumstances.header },
  });
const EVN = 'EVN||20260301101300+0100||||20260301100000+0100';
const PID =
  'PID|||WB-7710^^^NORTHMRN^MR~88-1^^^CITY^SS||Winterbourne^Odile^Ruth Mae^^^^L||19580412|F';
const pv1 = (fields: Readonly<Record<number, string>>) =>
  `PV1|${Array.from({ length: 45 }, (_, at) => fields[at + 1] ?? '').join('|')}`;
const VISIT = pv1({ 2: 'I', 3: 'NORTH^4^B', 6: 'SOUTH^2^A', 19: 'V-310^^^ADTVN' });

describe('events of patients (HL7 v2.9.1 chapter 3)', () => {
  test.each([
    ['A01', 'admitted'],
    ['A02', 'transferred'],
    ['A03', 'discharged'],
    ['A04', 'registered'],
    ['A08', 'updated'],
    ['A11', 'admission-cancelled'],
    ['A12', 'transfer-cancelled'],
    ['A13', 'discharge-cancelled'],
  ])('%s: %s', (event, kind) => {
    const { events, faults } = adt(event, [EVN, PID, VISIT]);
    expect(faults).toEqual([]);
    expect(events).toEqual([
      {
        kind,
        patient: {
          identifier: { system: 'urn:example:mrn', value: 'WB-7710' },
          others: [{ system: 'urn:v2:CITY', value: '88-1' }],
          doubts: [],
          familyName: 'Winterbourne',
          givenNames: ['Odile', 'Ruth', 'Mae'],
          birthDate: '1958-04-12',
          gender: 'female',
        },
        time: '2026-03-01T10:00:00+01:00',
        encounter: { identifier: { system: 'urn:v2:ADTVN', value: 'V-310' } },
        location: 'NORTH/4/B',
        priorLocation: 'SOUTH/2/A',
        prior: [],
      },
    ]);
  });

  test('A40 tells which identifiers are no longer used (MRG-1), pair by pair', () => {
    const mrg = (value: string) => `MRG|${value}^^^NORTHMRN^MR`;
    const second = 'PID|||WB-9001^^^NORTHMRN^MR||Ashdown^Piers';
    const { events } = adt('A40', [EVN, PID, mrg('WB-7709'), second, mrg('WB-9000')]);
    expect(
      events.map(({ kind, patient, prior }) => [kind, patient.identifier.value, prior]),
    ).toEqual([
      ['merged', 'WB-7710', [{ system: 'urn:example:mrn', value: 'WB-7709' }]],
      ['merged', 'WB-9001', [{ system: 'urn:example:mrn', value: 'WB-9000' }]],
    ]);
  });
});

describe('what is told of the patient', () => {
  const factsOf = (pid: string) => adt('A08', [EVN, pid]).events[0]?.patient;

  test.each([
    ['M', 'male'],
    ['F', 'female'],
    ['O', 'other'],
    ['A', 'other'],
    ['U', 'unknown'],
    ['N', 'other'],
  ])('sex %s is %s (HL7 table 0001)', (sex, gender) => {
    expect(factsOf(`PID|||WB-7710^^^NORTHMRN|||||${sex}`)).toMatchObject({ gender });
  });

  test('`""` deletes, and nothing states nothing (HL7 v2.9.1 §2.4.3)', () => {
    expect(factsOf('PID|||WB-7710^^^NORTHMRN||""||""|""')).toMatchObject({
      familyName: null,
      givenNames: null,
      birthDate: null,
      gender: null,
    });
    expect(Object.keys(factsOf('PID|||WB-7710^^^NORTHMRN||||||Q') ?? {})).toEqual([
      'identifier',
      'others',
      'doubts',
    ]);
  });

  test('doubts about identity travel with it', () => {
    expect(factsOf(`PID|||WB-7710${'|'.repeat(28)}Y`)?.doubts).toEqual([
      'authority-missing',
      'identity-declared-unknown',
    ]);
  });
});

describe('when it happened', () => {
  const timeOf = (event: string, segments: readonly string[], circumstances: Circumstances = {}) =>
    adt(event, segments, circumstances).events[0]?.time;
  const recorded = 'EVN||20260301101300+0100';

  test('EVN-6, the time in the visit, EVN-2, MSH-7: the first that names a moment', () => {
    expect(timeOf('A01', [EVN, PID, VISIT])).toBe('2026-03-01T10:00:00+01:00');
    expect(timeOf('A01', [recorded, PID, pv1({ 44: '202603010945+0100' })])).toBe(
      '2026-03-01T09:45:00+01:00',
    );
    expect(
      timeOf('A03', [recorded, PID, pv1({ 44: '202603010945', 45: '20260301095000+0100' })]),
    ).toBe('2026-03-01T09:50:00+01:00');
    expect(timeOf('A03', [recorded, PID, pv1({ 45: '20261301095000' })])).toBe(
      '2026-03-01T10:13:00+01:00',
    );
    expect(timeOf('A08', ['EVN|', PID])).toBe('2026-03-01T10:15:00+01:00');
  });

  test('is not told where no zone is known', () => {
    const header = { 7: '20260301101500' };
    expect(timeOf('A08', ['EVN||20260301101300', PID], { header })).toBeNull();
  });
});

describe('what cannot be acted on is refused, with the place of the fault', () => {
  test.each([
    ['A01', [EVN], '100', null],
    ['A01', [EVN, 'PID|||'], '101', { segment: 'PID', field: 3 }],
    ['A01', [EVN, PID, PID], '198', { segment: 'PID', occurrence: 2 }],
    ['A40', [EVN, PID], '101', null],
    ['A40', [EVN, PID, 'MRG|'], '101', { segment: 'MRG', field: 1 }],
    ['A40', [EVN, PID, 'MRG|WB-7709'], '101', { segment: 'MRG', field: 1 }],
  ])('%s %j', (event, segments, code, location) => {
    const { events, faults } = adt(event, segments);
    expect(events).toEqual([]);
    expect(faults).toMatchObject([{ severity: 'E', code, location }]);
  });

  test('an EVN-1 that differs from MSH-9 is a warning', () => {
    const { events, faults } = adt('A01', ['EVN|A03|20260301101300+0100', PID]);
    expect(events).toMatchObject([{ kind: 'admitted' }]);
    expect(faults).toMatchObject([
      { severity: 'W', code: '103', location: { segment: 'EVN', field: 1 } },
    ]);
  });
});
