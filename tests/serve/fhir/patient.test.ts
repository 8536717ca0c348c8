import type { OperationOutcome, Patient } from 'fhir/r4.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { FhirFixture } from './fhir-fixture.js';
import type { AnyBundle, Answer } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

const MRN = 'urn:example:mrn';

function criteria(value: string): string {
  return `Patient?${new URLSearchParams({ identifier: `${MRN}|${value}` }).toString()}`;
}

function patientNamed(value: string, more: Partial<Patient> = {}): Patient {
  return {
    resourceType: 'Patient',
    identifier: [{ system: MRN, value }],
    name: [{ use: 'official', family: 'Amsel', given: ['Ida'] }],
    gender: 'female',
    birthDate: '1958-11-02',
    ...more,
  };
}

async function put<T = Patient>(
  value: string,
  body: unknown,
  headers: Readonly<Record<string, string>> = {},
): Promise<Answer<T>> {
  return fhir.ask<T>(criteria(value), {
    method: 'PUT',
    body: typeof body === 'string' ? body : JSON.stringify(body),
    headers: { 'Content-Type': 'application/fhir+json', ...headers },
  });
}

interface VersionRow {
  version: number;
  family_name: string | null;
  birth_date: string | null;
  gender: string | null;
  superseded: Date | null;
}

async function versionsOf(id: string): Promise<VersionRow[]> {
  const { rows } = await fhir.database.pool.query<VersionRow>(
    `select v.version, v.family_name, v.birth_date, v.gender, v.superseded
       from patient_versions v join patients p using (patient_key)
      where p.patient_id = $1 order by v.version`,
    [id],
  );
  return rows;
}

describe('registering by identifier (R4 §3.1.0.4.3)', () => {
  it('creates, then updates, then finds nothing to change', async () => {
    const created = await put('reg-1', patientNamed('reg-1'));
    expect(created.status).toBe(201);
    const { id = '' } = created.body;
    expect(created.headers.get('location')).toBe(`${fhir.url}/fhir/Patient/${id}/_history/1`);
    expect(created.headers.get('etag')).toBe('W/"1"');
    expect(resourceFaults(created.text)).toEqual([]);
    expect((await fhir.ask(`Patient/${id}`)).text).toBe(created.text);

    const same = await put('reg-1', patientNamed('reg-1'));
    expect([same.status, same.headers.get('etag'), same.text]).toEqual([
      200,
      'W/"1"',
      created.text,
    ]);

    const changed = await put('reg-1', patientNamed('reg-1', { birthDate: '1958-11-03', id }));
    expect([changed.status, changed.headers.get('etag'), changed.body.id]).toEqual([
      200,
      'W/"2"',
      id,
    ]);
    expect(changed.headers.get('location')).toBeNull();
    expect((await fhir.ask(`Patient/${id}/_history/1`)).text).toBe(created.text);
    const [first, second] = await versionsOf(id);
    expect(first).toMatchObject({ version: 1, birth_date: '1958-11-02' });
    expect(first?.superseded).not.toBeNull();
    expect(second).toMatchObject({
      version: 2,
      superseded: null,
      family_name: 'Amsel',
      birth_date: '1958-11-03',
      gender: 'female',
    });
    const { body: history } = await fhir.ask<AnyBundle>(`Patient/${id}/_history`);
    expect(bundleFaults(history)).toEqual([]);
    expect(history.entry?.map(({ response }) => response?.etag)).toEqual(['W/"2"', 'W/"1"']);
  });

  it('keeps the id that a sender made by naming the identifier, and tells of it', async () => {
    const named = await fhir.addPatient('reg-2');
    expect((await fhir.ask(`Patient/${named.id}`)).status).toBe(404);
    expect((await fhir.ask<AnyBundle>(criteria('reg-2'))).body.total).toBe(0);
    const { status, body } = await put('reg-2', patientNamed('reg-2'));
    expect([status, body.id]).toEqual([201, named.id]);
    expect(fhir.registered).toContain(named.key);
  });

  it('adds the identifier that was asked for, and all others', async () => {
    const ssn = { system: 'urn:example:national', value: '40-111' };
    const { body } = await put('reg-3', patientNamed('other', { identifier: [ssn] }));
    expect(body.identifier).toEqual([ssn, { system: MRN, value: 'reg-3' }]);
    for (const token of [`${MRN}|reg-3`, `${ssn.system}|${ssn.value}`, ssn.value]) {
      const query = new URLSearchParams({ identifier: token }).toString();
      const { body: found } = await fhir.ask<AnyBundle>(`Patient?${query}`);
      expect(found.entry?.map(({ resource }) => resource?.id)).toEqual([body.id]);
      expect(bundleFaults(found)).toEqual([]);
    }
    const none = await fhir.ask<AnyBundle>('Patient?identifier=urn:example:other%7Creg-3');
    expect(none.body.total).toBe(0);
  });

  it('refuses several matches, and identifiers of somebody else', async () => {
    const one = await put('reg-4a', patientNamed('reg-4a'));
    const two = await put('reg-4b', patientNamed('reg-4b'));
    const both = await fhir.ask<OperationOutcome>(
      `Patient?identifier=${encodeURIComponent(`${MRN}|reg-4a,${MRN}|reg-4b`)}`,
      {
        method: 'PUT',
        body: JSON.stringify(patientNamed('reg-4a')),
        headers: { 'Content-Type': 'application/fhir+json' },
      },
    );
    expect([both.status, both.body.issue[0]?.code]).toEqual([412, 'multiple-matches']);

    const identifier = [{ system: MRN, value: 'reg-4b' }];
    for (const value of ['reg-4a', 'reg-4c']) {
      const taken = await put<OperationOutcome>(value, patientNamed(value, { identifier }));
      expect([taken.status, taken.body.issue[0]?.code]).toEqual([409, 'duplicate']);
    }
    for (const { body } of [one, two]) expect(await versionsOf(body.id ?? '')).toHaveLength(1);
    expect((await fhir.ask<AnyBundle>(criteria('reg-4c'))).body.total).toBe(0);
  });

  it('refuses another id and a stale version', async () => {
    const { body } = await put('reg-5', patientNamed('reg-5'));
    const id = '0197f3c0-0000-7000-8000-000000000001';
    const other = await put<OperationOutcome>('reg-5', patientNamed('reg-5', { id }));
    expect([other.status, other.body.issue[0]?.expression]).toEqual([400, ['Patient.id']]);
    expect((await put('reg-5b', patientNamed('reg-5b', { id }))).status).toBe(400);

    const change = patientNamed('reg-5', { gender: 'other' });
    expect((await put('reg-5', change, { 'If-Match': 'W/"2"' })).status).toBe(412);
    expect((await put('reg-5', change, { 'If-Match': 'nonsense' })).status).toBe(400);
    expect((await put('reg-5c', patientNamed('reg-5c'), { 'If-Match': 'W/"1"' })).status).toBe(412);
    expect((await put('reg-5', change, { 'If-Match': 'W/"1"' })).status).toBe(200);
    expect(await versionsOf(body.id ?? '')).toHaveLength(2);
  });

  it('makes one patient of many registrations at the same moment', async () => {
    const names = Array.from({ length: 8 }, (_, i) => `Name${i}`);
    const answers = await Promise.all(
      names.map((family) => put('reg-6', patientNamed('reg-6', { name: [{ family }] }))),
    );
    expect(answers.map(({ status }) => status).sort()).toEqual([
      200, 200, 200, 200, 200, 200, 200, 201,
    ]);
    const ids = new Set(answers.map(({ body }) => body.id));
    expect(ids.size).toBe(1);
    expect(await versionsOf([...ids][0] ?? '')).toHaveLength(8);
  });

  it('answers as Prefer asks', async () => {
    const minimal = await put('reg-7', patientNamed('reg-7'), { Prefer: 'return=minimal' });
    expect([minimal.status, minimal.text]).toEqual([201, '']);
    expect(minimal.headers.get('location')).not.toBeNull();
    const outcome = await put<OperationOutcome>('reg-7', patientNamed('reg-7'), {
      Prefer: 'return=OperationOutcome',
    });
    expect([outcome.status, outcome.body.issue[0]?.severity]).toEqual([200, 'information']);
  });

  it('leaves an audit line without the identifier', async () => {
    const { body } = await put('reg-8-secret', patientNamed('reg-8-secret'));
    const { rows } = await fhir.database.pool.query(
      'select action, outcome, client_key, detail from audit where entity = $1',
      [`Patient/${body.id ?? ''}`],
    );
    expect(rows).toEqual([
      { action: 'register-patient', outcome: 201, client_key: 1, detail: { version: 1 } },
    ]);
  });

  it('takes the family name by which a patient is called now', async () => {
    const name: Patient['name'] = [
      { use: 'maiden', family: 'Before' },
      { use: 'nickname', text: 'Idi' },
      { use: 'usual', family: 'Usual' },
      { use: 'official', family: 'Official' },
    ];
    const { body } = await put('reg-9', patientNamed('reg-9', { name }));
    expect((await versionsOf(body.id ?? ''))[0]?.family_name).toBe('Official');
  });
});

describe('what may be searched by', () => {
  it.each([
    'identifier=reg-1',
    'identifier=urn:example:mrn%7C',
    'identifier=%7Creg-1',
    'identifier=a%7Cb%7Cc',
    'identifier=',
    '',
    'family=Amsel',
    'identifier=urn:example:mrn%7Creg-1&family=Amsel',
    'identifier=urn:example:mrn%7Creg-1&identifier=urn:example:mrn%7Creg-2',
  ])('is a system and a value, not: %s', async (query) => {
    const { status } = await fhir.ask(`Patient?${query}`, {
      method: 'PUT',
      body: JSON.stringify(patientNamed('reg-1')),
      headers: { 'Content-Type': 'application/fhir+json' },
    });
    expect(status).toBe(400);
  });

  it('is refused as more than it may mean on a search, too', async () => {
    expect((await fhir.ask('Patient?family=Amsel')).status).toBe(400);
    expect((await fhir.ask('Patient?identifier:exact=x')).status).toBe(400);
    expect((await fhir.ask('Patient?_sort=family')).status).toBe(400);
  });

  it('gives pages of patients that show the state of the first', async () => {
    for (let i = 0; i < 5; i += 1) await put(`page-${i}`, patientNamed(`page-${i}`));
    let added = 5;
    const bundles = await fhir.pages('Patient?_count=2&_total=accurate', async () => {
      await put(`page-${added}`, patientNamed(`page-${added}`));
      added += 1;
    });
    const ids = bundles.flatMap(({ entry = [] }) => entry.map(({ resource }) => resource?.id));
    expect(new Set(ids).size).toBe(ids.length);
    expect(bundles.map(({ total }) => total)).toEqual(bundles.map(() => ids.length));
  });
});
