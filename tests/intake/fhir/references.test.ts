import { concept, MDC, saturation } from './observation-of.js';
import { BASE, MRN, PATIENT_ID, REGISTERED, faultsOf, readAll } from './read-one.js';
import type { Around, SentResource } from './read-one.js';

const FULL_URL = 'urn:uuid:7f4df7f4-9c4e-4d0b-8f43-0c2f8a6f2b90';
const EUI64 = 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680';

function patientOf(sent: readonly SentResource[], around: Around = {}): unknown {
  const { sets, fates } = readAll(sent, around);
  const refused = fates.find(({ kind }) => kind === 'refused');
  return refused ?? sets.at(-1)?.patient;
}

describe('whose it is', () => {
  const named = { identifier: { system: MRN, value: 'LF-20555' } };

  it.each([
    [{ reference: `Patient/${PATIENT_ID}` }],
    [{ reference: `${BASE}/Patient/${PATIENT_ID}` }],
    [{ reference: `Patient/${PATIENT_ID}/_history/3` }],
    [{ reference: `Patient?identifier=${MRN}|LF-20555` }],
    [{ identifier: { system: MRN, value: 'LF-20555' } }],
    [{ reference: `Patient/${PATIENT_ID}`, identifier: { system: MRN, value: 'LF-20555' } }],
  ])('%j', (subject) => {
    expect(patientOf([{ resource: saturation({ subject }) }])).toEqual(named);
  });

  it('is doubted where reference and identifier name two', () => {
    const subject = {
      reference: `Patient/${PATIENT_ID}`,
      identifier: { system: MRN, value: 'LF-1' },
    };
    expect(patientOf([{ resource: saturation({ subject }) }])).toEqual({
      ...named,
      doubts: ['identifiers-conflict'],
    });
  });

  it('comes with the second identifiers of a Patient that was sent along', () => {
    const patient = {
      resourceType: 'Patient',
      identifier: [
        { system: 'urn:example:ward', value: '7' },
        { system: MRN, value: 'LF-20555' },
      ],
      name: [{ use: 'nickname', family: 'X' }, { family: 'Amsel' }],
      birthDate: '1958-11-02',
    };
    const claims = {
      identifier: { system: MRN, value: 'LF-20555' },
      others: [{ system: 'urn:example:ward', value: '7' }],
      birthDate: '1958-11-02',
      familyName: 'Amsel',
    };
    const criteria = [{ system: MRN, value: 'LF-20555' }];
    const observed = { resource: saturation({ subject: { reference: FULL_URL } }) };
    expect(patientOf([{ resource: patient, fullUrl: FULL_URL, criteria }, observed])).toEqual(
      claims,
    );
    // Looked for by another number than its own, as in a published example of the device guides.
    const wrong = [{ system: 'urn:example:other', value: 'LF-20555' }];
    expect(
      patientOf([{ resource: patient, fullUrl: FULL_URL, criteria: wrong }, observed]),
    ).toMatchObject({
      doubts: ['identifiers-conflict'],
    });
    const contained = saturation({
      subject: { reference: '#p' },
      contained: [{ ...patient, id: 'p' }],
    });
    expect(patientOf([{ resource: contained, criteria: wrong }])).toMatchObject({
      familyName: 'Amsel',
    });
  });

  it('waits where a number has no authority, unless the source has a default', () => {
    const patient = { resourceType: 'Patient', identifier: [{ value: '0815' }], birthDate: '1958' };
    const sent = [
      { resource: patient, fullUrl: FULL_URL },
      { resource: saturation({ subject: { reference: FULL_URL } }) },
    ];
    expect(patientOf(sent)).toMatchObject({ doubts: ['authority-missing'] });
    expect(patientOf(sent, { profile: { defaultAuthority: MRN } })).toEqual({
      identifier: { system: MRN, value: '0815' },
    });
  });

  it.each([
    ['Patient/unknown', 'not-found'],
    ['http://other.example/fhir/Patient/1', 'not-found'],
    ['urn:uuid:nothing', 'not-found'],
    ['#nothing', 'not-found'],
    ['Device/1', 'not-found'],
    [`Patient?identifier=${MRN}|nobody`, 'not-found'],
    ['Patient?name=Amsel', 'not-found'],
  ])('is refused: %s', (reference, code) => {
    expect(faultsOf(saturation({ subject: { reference } }))).toEqual([`${code} subject`]);
  });

  it('is refused where several are met', () => {
    const patients = [REGISTERED, { ...REGISTERED, id: 'another' }];
    const subject = { reference: `Patient?identifier=${MRN}|LF-20555` };
    expect(faultsOf(saturation({ subject }), { patients })).toEqual(['multiple-matches subject']);
  });

  it('follows a relative reference from where its entry says that it is', () => {
    const patient = { resourceType: 'Patient', identifier: [{ system: MRN, value: 'LF-7' }] };
    const sent = [
      { resource: patient, fullUrl: 'http://ward.example/fhir/Patient/5' },
      {
        resource: saturation({ subject: { reference: 'Patient/5' } }),
        fullUrl: 'http://ward.example/fhir/Observation/9',
      },
    ];
    expect(patientOf(sent)).toEqual({ identifier: { system: MRN, value: 'LF-7' } });
    // In a batch no entry leads to another, and no search is followed (R4 §3.1.0.11).
    expect(patientOf(sent, { linked: false })).toMatchObject({ kind: 'refused' });
    const search = saturation({ subject: { reference: `Patient?identifier=${MRN}|LF-20555` } });
    expect(faultsOf(search, { linked: false })).toEqual(['not-found subject']);
  });

  it('is one set for all Observations of one patient, visit and recorder', () => {
    const other = { subject: { identifier: { system: MRN, value: 'LF-2' } } };
    const { sets } = readAll(
      [{}, other, {}, { encounter: { identifier: { system: 'urn:x:v', value: '1' } } }].map(
        (more) => ({ resource: saturation(more) }),
      ),
    );
    expect(sets.map(({ readings }) => readings.map(({ index }) => index))).toEqual([
      [0, 2],
      [1],
      [3],
    ]);
  });
});

describe('what measured it', () => {
  const tree = (mode?: string): SentResource[] => [
    {
      fullUrl: 'urn:uuid:mds',
      resource: {
        resourceType: 'Device',
        identifier: [
          { system: 'urn:x:serial', value: '1' },
          { system: EUI64, value: '0011223344556677' },
        ],
        ...(mode !== undefined && {
          extension: [
            {
              url: 'http://hl7.org/fhir/uv/pocd/StructureDefinition/operating-mode',
              valueCode: mode,
            },
          ],
        }),
      },
    },
    {
      fullUrl: 'urn:uuid:vmd',
      resource: {
        resourceType: 'Device',
        type: concept([MDC, '69642']),
        parent: { reference: 'urn:uuid:mds' },
      },
    },
    {
      fullUrl: 'urn:uuid:metric',
      resource: {
        resourceType: 'DeviceMetric',
        type: concept([MDC, '150456']),
        category: 'measurement',
        source: { reference: 'urn:uuid:mds' },
        parent: { reference: 'urn:uuid:vmd' },
      },
    },
  ];
  const measured = { resource: saturation({ device: { reference: 'urn:uuid:metric' } }) };

  it('is the nearest device with an identifier, EUI-64 before others, in one spelling', () => {
    const { sets, fates } = readAll([...tree(), measured]);
    expect(sets[0]?.readings[0]?.device).toEqual({
      identifier: { system: EUI64, value: '00-11-22-33-44-55-66-77' },
    });
    expect(fates.slice(0, 3)).toMatchObject([
      { kind: 'device', told: { path: '', test: false } },
      { kind: 'device', told: { path: '69642' } },
      { kind: 'device', told: { path: '69642/150456', setting: false } },
    ]);
  });

  it.each([['Dmo'], ['Srv'], ['Mtn']])('shows test data in the mode %s', (mode) => {
    const { sets } = readAll([...tree(mode), measured]);
    expect(sets[0]?.readings[0]?.report?.doubts).toEqual(['test-data']);
  });

  it('shows settings where its metric is one, and test data where it was last said so', () => {
    const [mds, vmd, metric] = tree();
    const setting = { ...metric, resource: { ...metric?.resource, category: 'setting' } };
    const { sets } = readAll([mds, vmd, setting, measured].filter((one) => one !== undefined));
    expect(sets[0]?.readings[0]?.report?.doubts).toEqual(['setting-not-measurement']);
    const before = readAll([{ resource: saturation() }], { testing: ['OX-12'] });
    expect(before.sets[0]?.readings[0]?.report?.doubts).toEqual(['test-data']);
  });

  it.each([
    ['a tree without end', { resourceType: 'Device', parent: { reference: 'urn:uuid:loop' } }],
    ['no identifier', { resourceType: 'Device' }],
    ['no device', { resourceType: 'Practitioner' }],
  ])('is refused: %s', (_what, resource) => {
    const { fates } = readAll([
      { fullUrl: 'urn:uuid:loop', resource },
      { resource: saturation({ device: { reference: 'urn:uuid:loop' } }) },
    ]);
    expect(fates[1]).toMatchObject({ kind: 'refused', faults: [{ code: 'not-found' }] });
  });
});

describe('what is told beside', () => {
  const bits = (more: object): SentResource => ({
    resource: saturation({
      code: concept([MDC, '150604']),
      valueQuantity: undefined,
      component: [{ code: concept(['urn:x:bits', '150604.11']), valueBoolean: true }],
      ...more,
    }),
  });

  it('doubts the signal of readings of the same device and time, and no others', () => {
    const other = saturation({ effectiveDateTime: '2026-03-02T07:41:00+01:00' });
    const { sets, fates } = readAll([{ resource: saturation() }, bits({}), { resource: other }]);
    expect(sets[0]?.readings.map(({ report }) => report?.signal)).toEqual([
      ['questionable'],
      undefined,
    ]);
    expect(fates[1]).toMatchObject({ kind: 'used' });
  });

  it('is kept for the analyst where nothing is there to be doubted', () => {
    expect(readAll([bits({})]).fates).toMatchObject([
      { kind: 'unread', reason: 'not-a-vital-sign' },
    ]);
  });

  it('tells how a clock goes, and what it showed at each reading', () => {
    const stamp = (more: object): SentResource => ({
      fullUrl: 'urn:uuid:stamp',
      resource: {
        resourceType: 'Observation',
        status: 'final',
        code: concept([MDC, '67975']),
        subject: { identifier: { system: 'urn:example:device', value: 'OX-12' }, type: 'Device' },
        effectiveDateTime: '2026-03-02T08:00:00+01:00',
        valueDateTime: '2026-03-02T08:00:45+01:00',
        ...more,
      },
    });
    const extension = [
      {
        url: 'http://hl7.org/fhir/uv/phd/StructureDefinition/CoincidentTimeStampReference',
        valueReference: { reference: 'urn:uuid:stamp' },
      },
    ];
    const { sets, clocks } = readAll([stamp({}), { resource: saturation({ extension }) }]);
    expect(sets[0]?.readings[0]).toMatchObject({
      takenAt: '2026-03-02T07:40:00+01:00',
      report: { deviceTime: '2026-03-02T07:40:45+01:00' },
    });
    expect(clocks.map(({ deviceMs, trueMs }) => deviceMs - trueMs)).toEqual([45_000]);
    const fault = stamp({
      valueDateTime: undefined,
      dataAbsentReason: { text: 'Sensor Time Fault' },
    });
    const unset = readAll([fault, { resource: saturation({ extension }) }]);
    expect(unset.sets[0]?.readings[0]?.report?.doubts).toEqual(['clock-unset']);
    expect(faultsOf(saturation({ extension }))).toEqual(['not-found extension']);
  });
});
