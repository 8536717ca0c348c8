import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { readHl7 } from '../../../src/intake/hl7v2/read-hl7.js';
import { obr, observationsIn, PROFILE, row, type Circumstances } from './deliveries.js';
import { bytesOf, headerOf } from './messages.js';

const setOf = (pid: string, circumstances: Circumstances = {}, ...more: readonly string[]) =>
  observationsIn([pid, ...more, obr(), row('spo2', '1.1.1.1', '97')], circumstances).sets[0];
const patientOf = (pid: string, circumstances: Circumstances = {}) =>
  setOf(pid, circumstances)?.patient ?? null;
/** A PID with this PID-3 and a name. */
const pid = (ids: string, name = 'Winterbourne^Odile^^^^^L', birth = '19580412') =>
  `PID|||${ids}||${name}||${birth}`;

describe('identifiers (PID-3)', () => {
  test.each([
    ['WB-7710^^^NORTHMRN^MR', 'urn:example:mrn'],
    ['WB-7710^^^EAST WING^MR', 'urn:v2:EAST%20WING'],
    ['WB-7710^^^&2.999.17.4&ISO^MR', 'urn:oid:2.999.17.4'],
    ['WB-7710^^^EAST&2.999.17.4&ISO^MR', 'urn:oid:2.999.17.4'],
    ['WB-7710^^^NORTHMRN&2.999.17.4&ISO^MR', 'urn:example:mrn'],
    ['WB-7710^^^&https://ids.example/mrn&URI^MR', 'https://ids.example/mrn'],
    [
      'WB-7710^^^&5C0E6A9E-27C4-4C5E-9C7B-0D2F7F0A2B11&UUID^MR',
      'urn:uuid:5c0e6a9e-27c4-4c5e-9c7b-0d2f7f0a2b11',
    ],
    ['WB-7710^^^&not an oid&ISO^MR', 'urn:v2:not%20an%20oid'],
    ['WB-7710^^^constructor^MR', 'urn:v2:constructor'],
  ])('%s is of %s', (ids, system) => {
    expect(patientOf(pid(ids))).toEqual({
      identifier: { system, value: 'WB-7710' },
      birthDate: '1958-04-12',
      familyName: 'Winterbourne',
    });
  });

  test('without an authority: as the source is registered, else in doubt', () => {
    const profile = { defaultAuthority: 'urn:example:house' };
    expect(patientOf(pid('WB-7710^^^^MR'), { profile })).toMatchObject({
      identifier: { system: 'urn:example:house', value: 'WB-7710' },
    });
    expect(patientOf(pid('WB-7710^^^^MR'))).toMatchObject({
      identifier: { system: 'urn:v2:unnamed' },
      doubts: ['authority-missing'],
    });
  });

  test('several: the medical record number first, the others beside it, accounts and visits left out', () => {
    const ids = '88-1^^^CITY^SS~V310^^^NORTHMRN^VN~WB-7710^^^NORTHMRN^MR~A9^^^NORTHMRN^AN~7^^^^PI';
    expect(patientOf(pid(ids))).toMatchObject({
      identifier: { system: 'urn:example:mrn', value: 'WB-7710' },
      others: [{ system: 'urn:v2:CITY', value: '88-1' }],
    });
  });

  test('two of one kind of one authority contradict each other', () => {
    const ids = 'WB-7710^^^NORTHMRN^MR~WB-7711^^^NORTHMRN^MR';
    expect(patientOf(pid(ids))).toMatchObject({ doubts: ['identifiers-conflict'] });
    expect(patientOf(pid('WB-7710^^^NORTHMRN^MR~WB-7710^^^NORTHMRN^MR'))).not.toHaveProperty(
      'doubts',
    );
  });

  test('blanks around one are no part of it, no-break spaces too', () => {
    expect(
      patientOf(pid(' WB-7710\u00a0 ^^^NORTHMRN^MR'), { header: { 18: 'UNICODE UTF-8' } }),
    ).toMatchObject({ identifier: { value: 'WB-7710' } });
  });

  test.each([
    '',
    '""',
    '^^^NORTHMRN^MR',
    '   ^^^NORTHMRN',
    `${'9'.repeat(201)}^^^NORTHMRN`,
    'WB\\X07\\1^^^NORTHMRN',
  ])('%.30p names nobody', (ids) => {
    expect(patientOf(pid(ids))).toBeNull();
  });

  test('PID-31 says that nobody knows who it is', () => {
    const unknown = `${pid('WB-7710^^^NORTHMRN^MR')}${'|'.repeat(24)}Y`;
    expect(patientOf(unknown)).toMatchObject({ doubts: ['identity-declared-unknown'] });
  });
});

describe('name and birth', () => {
  test.each([
    ['Winterbourne^Odile^^^^^L', 'Winterbourne'],
    ['Fairley^Odile^^^^^M~Winterbourne^Odile^^^^^L', 'Winterbourne'],
    ['Winterbourne^Odile', 'Winterbourne'],
    ['van den Berg&van den&Berg^Odile^^^^^L', 'van den Berg'],
    ['^^^^^^U', undefined],
    ['Fairley^Odile^^^^^M', undefined],
    ['""^Odile^^^^^L', undefined],
  ])('%s is %p (HL7 table 0200)', (name, familyName) => {
    expect(patientOf(pid('WB-7710^^^NORTHMRN^MR', name))?.familyName).toBe(familyName);
  });

  test.each([
    ['19580412', '1958-04-12'],
    ['19580412233000-0600', '1958-04-12'],
    ['195804', '1958-04'],
    ['1958', '1958'],
    ['19581345', undefined],
    ['12.4.1958', undefined],
    ['""', undefined],
  ])('born %s is %p', (birth, birthDate) => {
    expect(patientOf(pid('WB-7710^^^NORTHMRN^MR', undefined, birth))?.birthDate).toBe(birthDate);
  });
});

describe('visit and place (PV1)', () => {
  const visit = (fields: Readonly<Record<number, string>>) => {
    const values = Array.from({ length: 19 }, (_, at) => fields[at + 1] ?? '');
    return setOf(pid('WB-7710^^^NORTHMRN^MR'), {}, `PV1|${values.join('|')}`);
  };

  test.each([
    ['NORTH^4^B^BAYSIDE', 'NORTH/4/B'],
    ['NORTH^^B', 'NORTH/B'],
    ['NORTH', 'NORTH'],
    ['^^^BAYSIDE', undefined],
    ['', undefined],
  ])('PV1-3 %s is %p', (sent, location) => {
    expect(visit({ 3: sent })?.location).toBe(location);
  });

  test('PV1-19 is numbered by its authority, else by the sender', () => {
    expect(visit({ 19: 'V-310^^^EAST^VN' })?.encounter).toEqual({
      identifier: { system: 'urn:v2:EAST', value: 'V-310' },
    });
    expect(visit({ 19: 'V-310' })?.encounter).toEqual({
      identifier: { system: 'urn:v2:BAYMON', value: 'V-310' },
    });
    expect(visit({})).not.toHaveProperty('encounter');
  });
});

describe('devices and people', () => {
  const deviceOf = (sent: string) =>
    observationsIn([obr(), row('spo2', '1.1.1.1', '97', { 18: sent })]).sets[0]?.readings[0]
      ?.device;
  const EUI64 = 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680';

  test.each([
    ['MON-12^^0a1b2cfffe000012^EUI-64', EUI64, '0A-1B-2C-FF-FE-00-00-12'],
    ['^^0A-1B-2C-FF-FE-00-00-12^EUI-64', EUI64, '0A-1B-2C-FF-FE-00-00-12'],
    [
      '^^5C0E6A9E-27C4-4C5E-9C7B-0D2F7F0A2B11^UUID',
      'urn:ietf:rfc:3986',
      'urn:uuid:5c0e6a9e-27c4-4c5e-9c7b-0d2f7f0a2b11',
    ],
    ['MON-12^WEST', 'urn:v2:WEST', 'MON-12'],
    ['MON-12^^2.999.3^ISO', 'urn:oid:2.999.3', 'MON-12'],
    ['MON-12', 'urn:v2:BAYMON', 'MON-12'],
    ['MON-12^^0A1B^EUI-64', 'urn:v2:0A1B', 'MON-12'],
  ])('%s', (sent, system, value) => {
    expect(deviceOf(sent)).toEqual({ identifier: { system, value } });
  });

  test('the lowest level comes first, and what it is in follows', () => {
    expect(deviceOf('PROBE-1^WEST~MON-12^WEST~PROBE-1^WEST')).toEqual({
      identifier: { system: 'urn:v2:WEST', value: 'PROBE-1' },
      within: [{ system: 'urn:v2:WEST', value: 'MON-12' }],
    });
  });
});

test('of a message whose characters are broken only PID-3 is read, and all is in doubt (MSH-18)', () => {
  const segments = [
    pid('WB-7710^^^NORTHMRN^MR', 'Wint\xffrbourne^Odile^^^^^L'),
    'PV1||I|NORTH^4^B',
    obr(),
    row('spo2', '1.1.1.1', '97'),
  ];
  for (const charset of ['UNICODE UTF-8', '']) {
    const delivery = readHl7(
      parseMessage(bytesOf(headerOf({ 18: charset }), ...segments)),
      PROFILE,
    );
    expect(delivery).toMatchObject({
      sets: [
        {
          patient: { identifier: { system: 'urn:example:mrn', value: 'WB-7710' } },
          readings: [{ value: '97', report: { doubts: ['character-set-broken'] } }],
        },
      ],
    });
    const [set] = delivery.kind === 'observations' ? delivery.sets : [];
    expect(Object.keys(set?.patient ?? {})).toEqual(['identifier']);
    expect(set).not.toHaveProperty('location');
  }
});
