import type { Observation } from 'fhir/r4.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { schemaFaults } from '../../fhir-validation/r4-json-schema.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { uuid7 } from '../../../src/store/uuid7.js';
import { ALL_SCOPES, FhirFixture, idsIn, observationsIn, outcomesIn } from './fhir-fixture.js';
import type { AnyBundle, TestPatient } from './fhir-fixture.js';

let fhir: FhirFixture;
let patient: TestPatient;
let other: TestPatient;
/** One reading with all that it may point to, one of the same patient with nothing, one of another. */
let full: string;
let bare: string;
let foreign: string;
const ids = { device: uuid7(), encounter: uuid7(), person: uuid7(), place: '' };
const EVERYTHING = 'system/*.rs';

beforeAll(async () => {
  fhir = await FhirFixture.open();
  await fhir.switchDerivedOn();
  await register('ref-1');
  await register('ref-2');
  patient = await patientOf('ref-1');
  other = await patientOf('ref-2');
  const pressure = { vital: 'blood-pressure', systolic: '120', diastolic: '80' } as const;
  const derived = { 'mean-pressure': '93', factor: '1/3' };
  full = await fhir.addReading(patient, { ...pressure, derived });
  bare = await fhir.addReading(patient);
  foreign = await fhir.addReading(other);
  const { pool } = fhir.database;
  await pool.query(
    "insert into devices (device_id, system, value) values ($1, 'urn:d', 'cuff-7')",
    [ids.device],
  );
  await pool.query(
    "insert into people (person_id, system, value) values ($1, 'urn:p', 'nurse-3')",
    [ids.person],
  );
  await pool.query(
    "insert into encounters (encounter_id, system, value, patient_key) values ($1, 'urn:v', 'visit-1', $2)",
    [ids.encounter, patient.key],
  );
  const { rows } = await pool.query<{ place_id: string }>(
    "insert into places (path) values ('Ward 7/Bed 2') returning place_id",
  );
  ids.place = rows[0]?.place_id ?? '';
  await pool.query(
    'update readings set device_key = 1, recorder_key = 1, encounter_key = 1 where reading_id = $1',
    [full],
  );
});
afterAll(() => fhir.close());

async function register(value: string): Promise<void> {
  const { status } = await fhir.ask(`Patient?identifier=urn:example:mrn|${value}`, {
    method: 'PUT',
    headers: { 'Content-Type': 'application/fhir+json' },
    body: JSON.stringify({
      resourceType: 'Patient',
      identifier: [{ system: 'urn:example:mrn', value }],
      name: [{ family: 'Lindqvist' }],
      gender: 'female',
      birthDate: '1950-02-03',
    }),
  });
  if (status !== 201) throw new Error(`registration answered ${status}`);
}

async function patientOf(value: string): Promise<TestPatient> {
  const { rows } = await fhir.database.pool.query<{ id: string; key: number; ident: number }>(
    `select p.patient_id as id, p.patient_key as key, i.identifier_key as ident
       from patient_identifiers i join patients p using (patient_key) where i.value = $1`,
    [value],
  );
  const [row] = rows;
  if (row === undefined) throw new Error('no patient');
  return { id: row.id, key: row.key, identifierKey: row.ident };
}

async function find(query: string): Promise<string[]> {
  const { status, body, text } = await fhir.ask<AnyBundle>(`Observation?${query}`);
  if (status !== 200) throw new Error(text);
  return idsIn(body).sort();
}

describe('references', () => {
  const mean = (): string => `${full}.mean-pressure`;

  it('are searched by id, address, identifier of the reference and of the resource', async () => {
    const device = [[full]];
    for (const value of [
      ids.device,
      `Device/${ids.device}`,
      `${fhir.url}/fhir/Device/${ids.device}`,
    ]) {
      expect([await find(`device=${value}`)]).toEqual(device);
    }
    for (const name of ['device:identifier', 'device.identifier', 'device:Device.identifier']) {
      expect([name, await find(`${name}=urn:d|cuff-7`)]).toEqual([name, [full]]);
      expect([name, await find(`${name}=urn:x|cuff-7`)]).toEqual([name, []]);
    }
    expect(await find(`performer=Practitioner/${ids.person}`)).toEqual([full]);
    expect(await find('performer:identifier=nurse-3')).toEqual([full]);
    // What was calculated belongs to the visit, and was taken by nobody.
    expect(await find(`encounter=${ids.encounter}`)).toEqual([full, mean()].sort());
    expect(await find('encounter:identifier=urn:v|visit-1&code=85354-9')).toEqual([full]);
    expect(await find(`derived-from=Observation/${full}`)).toEqual([mean()]);
    expect(await find(`derived-from=${bare}`)).toEqual([]);
    for (const query of ['device=Patient/1', 'device=x', `encounter=Device/${ids.device}`]) {
      expect([query, await find(query)]).toEqual([query, []]);
    }
  });

  it('chain to the identifiers of the patient', async () => {
    const own = [full, bare, mean()].sort();
    for (const name of [
      'patient.identifier',
      'patient:Patient.identifier',
      'subject:Patient.identifier',
      'subject.identifier',
      'patient:identifier',
      'subject:identifier',
    ]) {
      expect([name, await find(`${name}=urn:example:mrn|ref-1`)]).toEqual([name, own]);
      expect([name, await find(`${name}=urn:example:mrn|nobody`)]).toEqual([name, []]);
    }
    expect(await find(`subject:Patient=${other.id}`)).toEqual([foreign]);
    const { body } = await fhir.ask<AnyBundle>(
      'Observation?patient.identifier=urn:example:mrn|ref-1',
    );
    expect(body.link?.[0]?.url).toContain('patient.identifier=urn%3Aexample%3Amrn%7Cref-1');
  });
});

function included({ entry = [] }: AnyBundle): string[] {
  return entry
    .filter(({ search }) => search?.mode === 'include')
    .map(({ fullUrl = '' }) => fullUrl.replace(`${fhir.url}/fhir/`, ''))
    .sort();
}

describe('includes', () => {
  const query = (names: readonly string[]): string =>
    [`Observation?patient=${patient.id}`, ...names.map((name) => `_include=${name}`)].join('&');

  it('bring what the matches of the page refer to, each once, and are not counted', async () => {
    const names = [
      'patient',
      'subject:Patient',
      'device',
      'encounter',
      'performer',
      'derived-from',
    ];
    const path = query(names.map((name) => `Observation:${name}`));
    const { body } = await fhir.ask<AnyBundle>(path, { scopes: EVERYTHING });
    const expected = [
      `Device/${ids.device}`,
      `Encounter/${ids.encounter}`,
      `Patient/${patient.id}`,
      `Practitioner/${ids.person}`,
    ];
    expect(included(body)).toEqual(expected);
    expect([body.total, idsIn(body).length]).toEqual([3, 3]);
    expect(bundleFaults(body)).toEqual([]);
    expect(body.link?.[0]?.url).toContain('_include=Observation%3Adevice');
    const all = await fhir.ask<AnyBundle>(query(['*']), { scopes: EVERYTHING });
    expect(included(all.body)).toEqual(expected);
    const of = `Observation?_id=${full}.mean-pressure&_include=Observation:derived-from`;
    expect(included((await fhir.ask<AnyBundle>(of)).body)).toEqual([`Observation/${full}`]);
  });

  it('bring nothing that the scopes do not let the reader see, and say so', async () => {
    const path = query(['Observation:patient', 'Observation:device']);
    const { body } = await fhir.ask<AnyBundle>(path, {
      scopes: 'system/Observation.rs system/Patient.s system/Device.r',
    });
    expect(included(body)).toEqual([`Device/${ids.device}`]);
    expect(outcomesIn(body)[0]?.issue.map(({ details }) => details?.text)).toContainEqual(
      expect.stringContaining('Patient'),
    );
  });

  it('that are not offered are passed over, or refused under strict handling', async () => {
    const path = query(['Observation:based-on']);
    const { body } = await fhir.ask<AnyBundle>(path);
    expect(body.link?.[0]?.url).not.toContain('_include');
    const headers = { Prefer: 'handling=strict' };
    expect((await fhir.ask(path, { headers })).status).toBe(400);
    expect((await fhir.ask(`${query(['*'])}&_summary=text`)).status).toBe(400);
  });
});

describe('resources in part', () => {
  const show = async (query: string): Promise<Observation> => {
    const { body } = await fhir.ask<AnyBundle>(`Observation?_id=${full}&${query}`);
    const [observation] = observationsIn([body]);
    if (observation === undefined) throw new Error('no match');
    return observation;
  };

  // FHIR R4 §3.1.1.5.8 and .9; the display of CodeSystem v3-ObservationValue 4.0.1.
  it('keep what is mandatory, and are tagged', async () => {
    const keys = async (query: string): Promise<string[]> => Object.keys(await show(query)).sort();
    const always = ['resourceType', 'id', 'meta', 'status', 'code'];
    expect(await keys('_elements=subject,effective')).toEqual(
      [...always, 'subject', 'effectiveDateTime'].sort(),
    );
    expect(await keys('_summary=text')).toEqual([...always, 'text'].sort());
    expect(await keys('_summary=true')).toEqual(
      [
        ...always,
        ...['subject', 'encounter', 'effectiveDateTime', 'issued', 'performer', 'component'],
      ].sort(),
    );
    expect(await keys('_summary=data')).not.toContain('text');
    for (const query of ['_elements=note', '_summary=true', '_summary=text', '_summary=data']) {
      const observation = await show(query);
      expect(observation.meta?.tag).toContainEqual({
        system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue',
        ...{ code: 'SUBSETTED', display: 'subsetted' },
      });
      // The profiles of vital signs bind the whole, the schema each part of it.
      expect(schemaFaults('Observation', observation)).toEqual([]);
      expect(observation.meta?.profile === undefined).toBe(query !== '_summary=data');
    }
    expect(JSON.stringify(await show('_summary=false'))).not.toContain('SUBSETTED');
  });
});

describe('devices, visits, people and places', () => {
  it('are read and searched with a scope of their own', async () => {
    const places = await fhir.ask<AnyBundle>('Location?name=ward 7', { scopes: EVERYTHING });
    expect(places.body.total).toBe(1);
    for (const [type, id, query] of [
      ['Device', ids.device, 'identifier=urn:d|cuff-7'],
      ['Encounter', ids.encounter, `patient=${patient.id}&identifier=urn:v|visit-1`],
      ['Practitioner', ids.person, 'identifier=nurse-3'],
      ['Location', ids.place, 'name:exact=Ward 7/Bed 2'],
    ] as const) {
      const { status, body, text } = await fhir.ask(`${type}/${id}`, { scopes: EVERYTHING });
      expect([type, status, body.id]).toEqual([type, 200, id]);
      expect([type, resourceFaults(text)]).toEqual([type, []]);
      const found = await fhir.ask<AnyBundle>(`${type}?${query}`, { scopes: EVERYTHING });
      expect(found.body.entry?.map(({ fullUrl }) => fullUrl)).toEqual([
        `${fhir.url}/fhir/${type}/${id}`,
      ]);
      expect([type, bundleFaults(found.body)]).toEqual([type, []]);
      const counted = await fhir.ask<AnyBundle>(`${type}?_id=${id}&_summary=count`, {
        scopes: EVERYTHING,
      });
      expect([type, counted.body.total]).toEqual([type, 1]);
      for (const path of [`${type}/${id}`, type]) {
        expect((await fhir.ask(path, { scopes: ALL_SCOPES })).status).toBe(403);
      }
      for (const wrong of [uuid7(), 'x', '%00']) {
        const missing = await fhir.ask(`${type}/${wrong}`, { scopes: EVERYTHING });
        expect([type, wrong, missing.status]).toEqual([type, wrong, 404]);
      }
    }
  });

  it('come in pages by id', async () => {
    for (let i = 0; i < 5; i += 1) {
      await fhir.database.pool.query(
        "insert into people (person_id, system, value) values ($1, 'urn:paged', $2)",
        [uuid7(), `p${i}`],
      );
    }
    const shown: string[] = [];
    let next: string | undefined = 'Practitioner?identifier=urn:paged|&_count=2';
    while (next !== undefined) {
      const page: { body: AnyBundle } = await fhir.ask<AnyBundle>(next, { scopes: EVERYTHING });
      shown.push(...(page.body.entry ?? []).map(({ fullUrl = '' }) => fullUrl));
      next = page.body.link?.find(({ relation }) => relation === 'next')?.url;
    }
    expect(shown).toHaveLength(5);
    expect(shown).toEqual([...new Set(shown)].sort());
  });

  it('tell where and how long a visit was, and when a device was registered', async () => {
    const { pool } = fhir.database;
    await pool.query(
      `insert into submissions (submission_id, source_key, client_key, received_at, kind, content_type,
         holds_key, byte_length, sha256, body, status, answer, edition)
       values ($1, 1, 1, now(), 'set', 'application/json', false, 0, '', '', 201, '', 1)`,
      [ids.device],
    );
    await pool.query(
      `insert into stays (patient_key, from_at, to_at, encounter_key, place_key, submission_id)
       values ($1, '2026-03-01T08:00Z', '2026-03-02T08:00Z', 1, 1, $2), ($1, '2026-03-02T08:00Z', null, 1, 1, $2)`,
      [patient.key, ids.device],
    );
    await pool.query(
      `insert into device_versions (device_key, version, stamp, display, type, place_key, worn)
       values (1, 1, '2026-02-01T00:00:00Z', 'Cuff of bed 2', 'monitor', 1, false)`,
    );
    const visit = await fhir.ask(`Encounter/${ids.encounter}`, { scopes: EVERYTHING });
    expect(resourceFaults(visit.text)).toEqual([]);
    expect(visit.body).toMatchObject({
      status: 'in-progress',
      subject: { reference: `Patient/${patient.id}` },
      period: { start: '2026-03-01T08:00:00.000Z' },
      location: [
        { location: { reference: `Location/${ids.place}` } },
        { period: { start: '2026-03-02T08:00:00.000Z' } },
      ],
    });
    const updated = 'Device?_lastUpdated=ge2026-02-01&_lastUpdated=lt2026-02-02';
    const { body } = await fhir.ask<AnyBundle>(updated, { scopes: EVERYTHING });
    expect(body.entry?.map(({ resource }) => resource?.id)).toEqual([ids.device]);
    expect(bundleFaults(body)).toEqual([]);
  });
});

describe('several sorts', () => {
  it.each([
    '-date,_lastUpdated',
    'date,-_lastUpdated',
    '_lastUpdated,date',
    '-date,-_id',
    'date,-_id',
  ])('give a whole order over pages: %s', async (sort) => {
    const sorted = await fhir.addPatient(`sorts-${sort}`);
    const derived = { 'pulse-pressure': '48', 'mean-pressure': '93', factor: '1/3' };
    const pressure = {
      vital: 'blood-pressure',
      systolic: '128',
      diastolic: '80',
      derived,
    } as const;
    for (let commit = 0; commit < 3; commit += 1) {
      const at = (hour: number): string => `2026-03-01T0${hour}:00:00Z`;
      await fhir.addReadings(sorted, [
        { ...pressure, at: at(commit % 2) },
        { at: at(0) },
        { at: at(1) },
      ]);
    }
    const bundles = await fhir.pages(`Observation?patient=${sorted.id}&_count=2&_sort=${sort}`);
    const shown = observationsIn(bundles);
    expect(shown).toHaveLength(15);
    expect(new Set(shown.map(({ id }) => id)).size).toBe(15);
    const keyOf = (
      { effectiveDateTime, meta, id = '' }: Observation,
      by: string,
    ): number | string =>
      by === 'date'
        ? Date.parse(effectiveDateTime ?? '')
        : by === '_id'
          ? id
          : Date.parse(meta?.lastUpdated ?? '');
    const keys = sort.split(',');
    const compared = shown.slice(1).map((after, i) => {
      for (const key of keys) {
        const [by, sign] = key.startsWith('-') ? [key.slice(1), -1] : [key, 1];
        const before = shown[i];
        if (before === undefined) throw new Error('no row before');
        const [x, y] = [keyOf(before, by), keyOf(after, by)];
        if (x !== y) return (x < y ? -1 : 1) * sign;
      }
      return -1;
    });
    expect(compared.every((one) => one < 0)).toBe(true);
  });
});
