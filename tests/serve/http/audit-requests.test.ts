/** What requests leave behind in the audit trail, whatever route they take. */
import { basic, askToken } from './start-app.js';
import { addClient } from '../../../src/store/clients.js';
import { digestOf } from '../../../src/store/audit-hashes.js';
import { readDigestKey } from '../../../src/store/audit-writers.js';
import { auditRows } from '../../setup/audit-rows.js';
import type { AuditRow } from '../../setup/audit-rows.js';
import { MRN, oxygen, registerPatient, setOf } from '../../setup/example-sets.js';
import type { SetAnswer } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { Ask, TestGateway } from '../../setup/gateway.js';

const ALL =
  'sets.write sets.check review.read review.write rules.read rules.write rules.approve admin metrics.read system/*.rs system/Patient.cu';

/** A configuration that a site could have. */
const LARKFIELD = {
  name: 'Larkfield',
  settings: {
    'blood-pressure-methods-disagree.systolic': {
      ...{ at: 15, unit: 'mm[Hg]' },
      source: { document: 'Larkfield, ward rules', section: 'blood pressure', year: 2026 },
    },
  },
};

let gateway: TestGateway;
let token: string;
let digestKey: Buffer;
let patientId: string;
let readingId: string;
let setId: string;

beforeAll(async () => {
  gateway = await openTestGateway({ RATE_LIMIT_PER_MINUTE: '2000' });
  token = await gateway.token(ALL);
  digestKey = await readDigestKey(gateway.database.pool);
  const patient = await registerPatient(gateway, 'LF-39001');
  const body = setOf(patient, [oxygen(97)]);
  const answer = await gateway.ask<SetAnswer>('/sets', { body, token });
  readingId = answer.body.readings[0]?.reading ?? '';
  setId = body.setId;
  const { rows } = await gateway.database.pool.query<{ id: string }>(
    "select p.patient_id as id from patients p join patient_identifiers i using (patient_key) where i.value = 'LF-39001'",
  );
  patientId = rows[0]?.id ?? '';
});
afterAll(() => gateway.close());

let asked = 0;

/** The entries of one request. */
async function entriesOf(path: string, ask: Ask = {}, least = 1): Promise<AuditRow[]> {
  asked += 1;
  const id = `audit-test-${asked}`;
  const headers = { ...ask.headers, 'x-request-id': id };
  const answer = await gateway.ask(path, { token, ...ask, headers });
  expect(answer.headers.get('x-request-id')).toBe(id);
  return auditRows(gateway.database.pool, 'request_id = $1', [id], least);
}

const digest = (value: string): string => digestOf(digestKey, value);

describe('a look', () => {
  it('is on record once, whatever route it takes', async () => {
    const looks: [path: string, action: string, entity: string][] = [
      [`/fhir/Observation/${readingId}`, 'fhir-read', `Observation/${readingId}`],
      [`/fhir/Observation/${readingId}/_history/1`, 'fhir-vread', `Observation/${readingId}`],
      [`/fhir/Observation/${readingId}/_history`, 'fhir-history', `Observation/${readingId}`],
      ['/fhir/Observation/_history?_count=1', 'fhir-history', 'Observation'],
      [`/fhir/Patient/${patientId}`, 'fhir-read', `Patient/${patientId}`],
      ['/fhir/Observation?_count=1', 'fhir-search', 'Observation'],
      ['/review/readings', 'review-list', 'review/readings'],
      [`/review/readings/${readingId}`, 'review-read', `readings/${readingId}`],
      ['/review/summary', 'review-summary', 'review/summary'],
      [`/sets/${setId}`, 'set-read', `sets/${setId}`],
      ['/sets?changedSince=2026-01-01T00:00:00Z', 'sets-list', 'sets'],
      ['/rules', 'rules-read', 'rules'],
      ['/rules/editions/1', 'rules-read', 'rules/editions/1'],
      ['/admin/clients', 'admin-read', 'admin/clients'],
    ];
    const found = await Promise.all(looks.map(([path]) => entriesOf(path)));
    expect(found.map((rows) => rows.length)).toEqual(looks.map(() => 1));
    expect(found.flat().map(({ action, entity }) => [action, entity])).toEqual(
      looks.map(([, action, entity]) => [action, entity]),
    );
    for (const one of found.flat()) {
      expect(one).toMatchObject({ outcome: 200, address: '127.0.0.1' });
      expect(one.client_key).not.toBeNull();
    }
  });

  it('names the patient whose reading it was, and the version', async () => {
    const { rows } = await gateway.database.pool.query<{ key: number }>(
      'select patient_key as key from patients where patient_id = $1',
      [patientId],
    );
    const paths = [
      `/fhir/Observation/${readingId}`,
      `/fhir/Observation/${readingId}/_history`,
      `/fhir/Observation?patient=Patient/${patientId}`,
      `/fhir/Patient?identifier=urn:example:mrn|LF-39001`,
      `/review/readings/${readingId}`,
    ];
    const found = await Promise.all(paths.map((path) => entriesOf(path)));
    expect(found.map(([one]) => one?.patient_key)).toEqual(paths.map(() => rows[0]?.key));
    expect(found[0]?.[0]?.detail).toEqual({ version: 1 });
  });

  it('has an entry for each of the patients that one search names', async () => {
    const second = await registerPatient(gateway, 'LF-39002');
    const { rows } = await gateway.database.pool.query<{ id: string }>(
      'select p.patient_id as id from patients p join patient_identifiers i using (patient_key) where i.value = $1',
      [second.number],
    );
    const list = `${patientId},${rows[0]?.id ?? ''}`;
    const entries = await entriesOf(`/fhir/Observation?patient=${list}`, {}, 2);
    expect(new Set(entries.map((one) => one.patient_key)).size).toBe(2);
  });

  it('has the names of the parameters in order, and of their values only digests', async () => {
    const [look] = await entriesOf('/fhir/Patient?identifier=urn:example:mrn|LF-39001&_count=3');
    expect(look?.detail).toEqual({
      query: [
        ['identifier', digest('urn:example:mrn|LF-39001')],
        ['_count', digest('3')],
      ],
    });
    const [posted] = await entriesOf('/fhir/Observation/_search', {
      body: 'code=8867-4&_count=2',
      headers: { 'content-type': 'application/x-www-form-urlencoded' },
    });
    expect(posted?.detail).toMatchObject({
      query: [
        ['code', digest('8867-4')],
        ['_count', digest('2')],
      ],
    });
  });

  it('has nothing of what was put in a wrong place', async () => {
    const value = 'LF-39001';
    const paths = [
      `/review/readings/${value}`,
      `/fhir/Observation/${value}`,
      `/fhir/Observation/${readingId}/_history/${value}`,
      `/fhir/Observation?${value}=1`,
      `/fhir/Observation?patient=${value}`,
      `/fhir/Observation?code=${value}`,
      `/fhir/Patient?name=${value}`,
      `/sets/${value}`,
      `/review/readings?patient=${value}`,
    ];
    const found = await Promise.all(paths.map((path) => entriesOf(path)));
    expect(found.map((rows) => rows.length)).toEqual(paths.map(() => 1));
    expect(JSON.stringify(found)).not.toContain(value);
  });

  it('that failed is on record with what was answered', async () => {
    const absent = '0197f3c0-0000-7000-8000-000000000001';
    const [gone] = await entriesOf(`/fhir/Observation/${absent}`);
    expect(gone).toMatchObject({ outcome: 404, entity: `Observation/${absent}` });
    const [wrong] = await entriesOf('/fhir/Observation?date=2026-13-40');
    expect(wrong).toMatchObject({ action: 'fhir-search', outcome: 400 });
  });
});

describe('an act', () => {
  it('has the one entry that its transaction wrote, with the request and the patient', async () => {
    const patient = await registerPatient(gateway, 'LF-39003');
    const rows = await entriesOf('/sets', { body: setOf(patient, [oxygen(98)]) });
    expect(rows).toEqual([
      expect.objectContaining({ action: 'set-received', outcome: 201, address: '127.0.0.1' }),
    ]);
    expect(rows[0]?.patient_key).not.toBeNull();
  });

  it('of a registry names the request, and whose a device became', async () => {
    const patient = await registerPatient(gateway, 'LF-39006');
    const [source] = await entriesOf('/admin/sources', {
      body: { name: 'larkfield-monitors', attended: false },
    });
    expect(source).toMatchObject({ action: 'source-add', outcome: 201, address: '127.0.0.1' });
    const [device] = await entriesOf('/admin/devices', {
      body: { identifier: { eui64: '00-1A-C5-FF-FE-20-4B-07' }, display: 'Monitor' },
    });
    expect(device).toMatchObject({ action: 'device-add', outcome: 201 });
    const [associated] = await entriesOf(`/admin/${device?.entity ?? ''}/associations`, {
      body: {
        patient: {
          identifier: { system: MRN, value: patient.number },
          birthDate: patient.birthDate,
        },
      },
    });
    expect(associated).toMatchObject({ action: 'device-associate', outcome: 200 });
    expect(associated?.patient_key).not.toBeNull();
  });

  it('that was refused has one too', async () => {
    const [bad] = await entriesOf('/sets', { body: { setId: 1 } });
    expect(bad).toMatchObject({ action: 'set-refused', outcome: 400 });
    const [merge] = await entriesOf('/review/merges', { body: {} });
    expect(merge).toMatchObject({ action: 'patients-merged', outcome: 400 });
    const decision = {
      action: 'release',
      reason: 'Seen.',
      reasonCode: 'other',
      expectedVersion: 9,
    };
    const decided = await entriesOf(`/review/readings/${readingId}/decisions`, { body: decision });
    expect(decided).toEqual([
      expect.objectContaining({ action: 'decision-release', outcome: 409 }),
    ]);
  });

  it('that changed nothing is on record: a check', async () => {
    const patient = await registerPatient(gateway, 'LF-39004');
    const rows = await entriesOf('/sets/check', { body: setOf(patient, [oxygen(98)]) });
    expect(rows).toEqual([expect.objectContaining({ action: 'set-checked', outcome: 200 })]);
  });

  it.each([
    [
      '/admin/clients',
      { name: 'x', scopes: ['sets.write'], source: { name: 'x', attended: true } },
    ],
    ['/rules/editions', { configuration: LARKFIELD, reason: 'Agreed by the ward' }],
  ])('of administration is not on record twice: %s', async (path, body) => {
    const rows = await entriesOf(path, { body });
    expect(rows[0]?.outcome).toBe(201);
    await new Promise((resolve) => setTimeout(resolve, 700));
    expect(
      await auditRows(gateway.database.pool, 'request_id = $1', [rows[0]?.request_id]),
    ).toHaveLength(1);
  });
});

describe('a refused access', () => {
  const refusals = (clientId: string): Promise<AuditRow[]> =>
    auditRows(
      gateway.database.pool,
      "action in ('refused', 'sign-in-refused') and client_key = (select client_key from clients where client_id = $1)",
      [clientId],
    );

  async function newClient(scopes: readonly string[]) {
    const source = { name: 'ward tablets', attended: true };
    const client = await addClient(gateway.database.pool, { name: 'refused', scopes, source });
    if (client === null) throw new Error('no client');
    return client;
  }

  it('is on record for a client whose scope is too small', async () => {
    const client = await newClient(['sets.check']);
    const answer = await askToken(gateway.url, basic(client));
    const { access_token: small } = (await answer.json()) as { access_token: string };
    expect((await gateway.ask('/review/readings', { token: small })).status).toBe(403);
    expect(await refusals(client.clientId)).toEqual([
      expect.objectContaining({ outcome: 403, entity: 'GET /review/readings' }),
    ]);
  });

  it('is on record for a client that cannot prove itself, and for one without access', async () => {
    const client = await newClient(['sets.write']);
    const wrong = basic({ ...client, clientSecret: 'wrong' });
    expect((await askToken(gateway.url, wrong)).status).toBe(401);
    expect(await refusals(client.clientId)).toEqual([
      expect.objectContaining({ outcome: 401, entity: 'POST /auth/token' }),
    ]);
    const disabled = await newClient(['sets.write']);
    const answer = await askToken(gateway.url, basic(disabled));
    const { access_token: old } = (await answer.json()) as { access_token: string };
    await gateway.database.pool.query(
      'update clients set disabled_at = now() where client_id = $1',
      [disabled.clientId],
    );
    expect((await gateway.ask('/sets', { token: old })).status).toBe(401);
    expect(await refusals(disabled.clientId)).toEqual([
      expect.objectContaining({ outcome: 401, entity: 'GET /sets' }),
    ]);
  });

  it('is on record without a client when nobody knows whose it was', async () => {
    const rows = await entriesOf('/review/readings?patient=x', { token: 'forged' });
    expect(rows).toEqual([
      expect.objectContaining({
        ...{ action: 'refused', outcome: 401, entity: 'GET /review/readings' },
        ...{ client_key: null, address: '127.0.0.1', detail: null },
      }),
    ]);
  });

  it('for too many requests is on record once a minute', async () => {
    const client = await newClient(['sets.check']);
    const answer = await askToken(gateway.url, basic(client));
    const { access_token: busy } = (await answer.json()) as { access_token: string };
    const statuses: number[] = [];
    for (let n = 0; n < 12; n += 1) {
      const some = Array.from({ length: 17 }, () =>
        gateway.ask('/sets/check', { token: busy, body: {} }),
      );
      statuses.push(...(await Promise.all(some)).map(({ status }) => status));
    }
    expect(statuses.filter((status) => status === 429)).toHaveLength(4);
    await new Promise((resolve) => setTimeout(resolve, 700));
    expect(await refusals(client.clientId)).toEqual([
      expect.objectContaining({ outcome: 429, entity: 'POST /sets/check' }),
    ]);
  });
});

it('has no entry for probes and figures', async () => {
  const { rows } = await gateway.database.pool.query<{ n: number }>(
    'select count(*) as n from audit',
  );
  for (const path of [
    '/health/live',
    '/health/ready',
    '/metrics',
    '/openapi.json',
    '/fhir/metadata',
  ]) {
    expect((await gateway.ask(path, { token })).status).toBe(200);
  }
  await entriesOf('/rules');
  const { rows: after } = await gateway.database.pool.query<{ n: number }>(
    'select count(*) as n from audit',
  );
  expect((after[0]?.n ?? 0) - (rows[0]?.n ?? 0)).toBe(1);
});
