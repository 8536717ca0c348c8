/** The audit trail as AuditEvents: what every kind of entry looks like, and who may see them. */
import type { AuditEvent, Bundle, FhirResource } from 'fhir/r4.js';
import {
  ACTION_CODES,
  actionCodeOf,
  actionsByCode,
  actionsBySubtype,
  actionsByType,
  codingsOf,
  outcomeOf,
} from '../../../src/serve/fhir/audit-actions.js';
import { renderAuditEvent } from '../../../src/serve/fhir/render-audit-event.js';
import { digestOf } from '../../../src/store/audit-hashes.js';
import { readDigestKey } from '../../../src/store/audit-writers.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { auditRows } from '../../setup/audit-rows.js';
import { MRN, oxygen, registerPatient, setOf } from '../../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { Ask, TestGateway } from '../../setup/gateway.js';

let gateway: TestGateway;
let watcher: string;
let worker: string;
let clientId: string;
let patient: TestPatient;
let patientId: string;
let readingId: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  watcher = await gateway.token('system/AuditEvent.rs');
  worker = await gateway.token(
    'sets.write sets.check review.read review.write rules.read rules.write admin system/*.rs system/Patient.cu',
  );
  patient = await registerPatient(gateway, 'LF-39500');
  const { pool } = gateway.database;
  const { rows } = await pool.query<{ id: string; client: string }>(
    `select p.patient_id as id, (select client_id from clients order by client_key desc offset 1 limit 1) as client
       from patients p join patient_identifiers i using (patient_key) where i.value = 'LF-39500'`,
  );
  patientId = rows[0]?.id ?? '';
  clientId = rows[0]?.client ?? '';
  const answer = await gateway.ask<SetAnswer>('/sets', {
    body: setOf(patient, [oxygen(97)]),
    token: worker,
  });
  readingId = answer.body.readings[0]?.reading ?? '';
  await makeHistory();
});
afterAll(() => gateway.close());

/** A bit of everything that leaves an entry. */
async function makeHistory(): Promise<void> {
  const asks: [path: string, ask?: Ask][] = [
    [`/fhir/Observation/${readingId}`],
    [`/fhir/Observation/${readingId}/_history/1`],
    [`/fhir/Observation/${readingId}/_history`],
    [`/fhir/Observation?patient=${patientId}&date=ge2026-01-01`],
    [`/fhir/Patient?identifier=${MRN}%7CLF-39500`],
    [`/fhir/Patient/${patientId}`],
    [`/fhir/Provenance/obs-${readingId}-1`],
    ['/fhir/Observation/0197f3c0-0000-7000-8000-000000000001'],
    ['/fhir/Observation?date=soon'],
    ['/review/readings'],
    [`/review/readings/${readingId}`],
    ['/review/submissions'],
    ['/review/summary'],
    ['/rules'],
    ['/admin/clients'],
    ['/fhir/AuditEvent'],
    ['/metrics'],
    ['/sets', { body: { setId: 1 } }],
    ['/sets/check', { body: setOf(patient, [oxygen(96)]) }],
    ['/rules/editions', { body: { configuration: {}, reason: 'none' } }],
    [
      `/review/readings/${readingId}/decisions`,
      {
        body: { action: 'withdraw', reason: 'Not hers.', reasonCode: 'other', expectedVersion: 1 },
      },
    ],
  ];
  for (const [n, [path, ask]] of asks.entries()) {
    const headers = { ...ask?.headers, 'x-request-id': `history-${n}` };
    await gateway.ask(path, { token: worker, ...ask, headers });
  }
  await auditRows(gateway.database.pool, "request_id = 'history-18'");
}

const search = (query: string, token = watcher) =>
  gateway.ask<Bundle<FhirResource>>(`/fhir/AuditEvent?${query}`, { token });

function eventsIn({ entry = [] }: Bundle<FhirResource>): AuditEvent[] {
  return entry.flatMap(({ resource }) =>
    resource?.resourceType === 'AuditEvent' ? [resource] : [],
  );
}

const found = async (query: string): Promise<AuditEvent[]> => eventsIn((await search(query)).body);

const word = ({ subtype = [] }: AuditEvent): string | undefined => subtype.at(-1)?.code;
const words = (events: readonly AuditEvent[]): string[] =>
  [...new Set(events.map((one) => word(one) ?? ''))].sort();

/** The entry of one request of the history. */
async function entryOf(n: number): Promise<AuditEvent> {
  const [row] = await auditRows(gateway.database.pool, 'request_id = $1', [`history-${n}`]);
  const answer = await gateway.ask<AuditEvent>(`/fhir/AuditEvent/${row?.audit_id ?? ''}`, {
    token: watcher,
  });
  expect(answer.status).toBe(200);
  return answer.body;
}

describe('an AuditEvent', () => {
  it('conforms to R4, whatever it is about', async () => {
    const { body } = await search('_count=500');
    expect(eventsIn(body).length).toBeGreaterThan(20);
    expect(bundleFaults(body)).toEqual([]);
    expect(words(eventsIn(body))).toEqual(
      expect.arrayContaining([
        ...['decision-withdraw', 'edition-propose', 'fhir-history', 'fhir-read', 'fhir-search'],
        ...['fhir-vread', 'process-started', 'refused', 'register-patient', 'review-list'],
        ...['set-checked', 'set-received', 'set-refused'],
      ]),
    );
  });

  it('conforms in states that no test can wait for', () => {
    const bare = {
      id: '0197f3c0-0000-7000-8000-000000000001',
      ...{ recordedMs: 1_772_000_000_000, atMs: 1_772_000_000_000, outcome: 200, entity: null },
      ...{ patientId: null, requestId: null, address: null, detail: {}, client: null },
      ...{ person: null, source: null, writerId: null },
    };
    const person = { system: 'urn:example:staff', value: 'N-311' };
    const client = { id: '5d1f0c52-3a5e-4e0b-9f44-6f0a5f0b8c21', name: 'desk <b>' };
    const states = [
      { action: 'process-lost', outcome: 500, detail: { lastSeen: '2026-03-01T08:00:00.000Z' } },
      { action: 'looks-lost', outcome: 500, detail: { entries: 12 } },
      { action: 'audit-cleared', entity: 'audit', detail: { before: '2026-01-01T00:00:00.000Z' } },
      { action: 'hold-deadline', entity: 'readings/0197f3c0-0000-7000-8000-000000000001' },
      { action: 'export-file', person, client, address: '2001:db8::7' },
      { action: 'sign-in', client, entity: 'auth/token' },
      { action: 'sign-in-refused', outcome: 401, address: '192.0.2.7' },
      { action: 'fhir-read', outcome: 0, person, client, entity: 'Observation/x' },
      { action: 'set-received', person, entity: 'submissions/x' },
      { action: 'set-received', source: { ...client, name: 'larkfield monitors' } },
      { action: 'something-new', outcome: 503, client, detail: { a: null, list: [], more: ['b'] } },
    ];
    for (const state of states) {
      const event = renderAuditEvent({ ...bare, ...state });
      expect([state.action, resourceFaults(JSON.stringify(event))]).toEqual([state.action, []]);
    }
    expect(outcomeOf('process-lost', 500)).toBe('12');
    // What the gateway did by itself with a message is not the doing of its source.
    const source = { ...client, name: 'larkfield monitors' };
    const settled = { action: 'identity-settled', entity: 'submissions/x', source };
    expect(renderAuditEvent({ ...bare, ...settled }).agent).toEqual([
      expect.objectContaining({
        who: expect.objectContaining({ display: 'Vital-sign gateway' }) as unknown,
      }),
    ]);
  });

  it('tells of a read who, what, when, from where and under which request', async () => {
    const event = await entryOf(1);
    expect(event).toMatchObject({
      meta: { versionId: '1', lastUpdated: event.recorded },
      type: { code: 'rest' },
      subtype: [
        { system: 'http://hl7.org/fhir/restful-interaction', code: 'vread' },
        { system: 'urn:vital-sign-gateway:audit-action', code: 'fhir-vread' },
      ],
      action: 'R',
      outcome: '0',
      agent: [
        {
          who: { identifier: { system: 'urn:vital-sign-gateway:client', value: clientId } },
          requestor: true,
          network: { address: '127.0.0.1', type: '2' },
        },
      ],
      entity: [
        {
          what: { reference: `Observation/${readingId}/_history/1` },
          role: { code: '4' },
          detail: [{ type: 'X-Request-Id', valueString: 'history-1' }],
        },
        { what: { reference: `Patient/${patientId}` }, role: { code: '1' } },
      ],
    });
  });

  it('tells of a search its parameters, and digests in place of their values', async () => {
    const key = await readDigestKey(gateway.database.pool);
    const event = await entryOf(4);
    const [query] = event.entity ?? [];
    expect(query?.role?.code).toBe('24');
    expect(Buffer.from(query?.query ?? '', 'base64').toString()).toBe(
      `Patient?identifier=${digestOf(key, `${MRN}|LF-39500`)}`,
    );
    // Whom the search found is on record by the id of the resource.
    expect(event.entity?.[1]?.what?.reference).toBe(`Patient/${patientId}`);
  });

  it('tells of a failure what was answered', async () => {
    expect(await entryOf(7)).toMatchObject({ outcome: '4', outcomeDesc: 'HTTP 404' });
    expect(await entryOf(15)).toMatchObject({
      outcome: '4',
      outcomeDesc: 'HTTP 403',
      action: 'E',
      entity: [{ what: { identifier: { value: 'GET /fhir/AuditEvent' } } }],
    });
  });

  it('has no identifier of a patient anywhere', async () => {
    const { text } = await search('_count=500');
    expect(text).not.toContain('LF-39500');
  });

  it('has one version', async () => {
    const { id = '' } = await entryOf(0);
    const ask = (path: string) => gateway.ask(`/fhir/AuditEvent/${path}`, { token: watcher });
    expect((await ask(`${id}/_history/1`)).text).toBe((await ask(id)).text);
    expect((await ask(id)).headers.get('etag')).toBe('W/"1"');
    for (const path of [`${id}/_history/2`, `${id}/_history/x`, 'x', readingId]) {
      expect([path, (await ask(path)).status]).toEqual([path, 404]);
    }
  });
});

describe('a search of AuditEvents', () => {
  it('finds by patient, also after a merge', async () => {
    const ofPatient = await found(`patient=Patient/${patientId}&_count=100`);
    expect(words(ofPatient)).toEqual(
      expect.arrayContaining(['decision-withdraw', 'fhir-read', 'fhir-search', 'set-received']),
    );
    expect(ofPatient.every((one) => JSON.stringify(one).includes(patientId))).toBe(true);
    const gone = await registerPatient(gateway, 'LF-39501');
    await gateway.ask('/review/merges', {
      token: worker,
      body: {
        retired: { identifier: { system: MRN, value: gone.number } },
        survivor: { identifier: { system: MRN, value: patient.number } },
        reason: 'Admitted twice.',
      },
    });
    const after = words(await found(`patient=${patientId}&action=U&_count=100`));
    expect(after).toEqual(['decision-withdraw', 'patients-merged', 'register-patient']);
  });

  it('finds by agent: a client by its id and by its identifier', async () => {
    const byId = await found(`agent=${clientId}&_count=200`);
    expect(byId.length).toBeGreaterThan(15);
    const list = byId.map(({ id }) => id);
    for (const identifier of [clientId, `urn:vital-sign-gateway:client|${clientId}`]) {
      const again = await found(`agent:identifier=${encodeURIComponent(identifier)}&_count=200`);
      expect(again.map(({ id }) => id)).toEqual(expect.arrayContaining(list));
    }
    expect(await found(`agent:identifier=urn:example:staff|${clientId}`)).toEqual([]);
  });

  it('finds by entity, in any version, a decision about a reading too', async () => {
    const events = await found(`entity=Observation/${readingId}`);
    expect(words(events)).toEqual([
      'decision-withdraw',
      'fhir-history',
      'fhir-read',
      'fhir-vread',
      'review-read',
    ]);
    expect(words(await found(`entity=Patient/${patientId}&action=R`))).toContain('fhir-read');
    expect(await found(`entity=submissions/${readingId}`)).toEqual([]);
  });

  it('finds by action and outcome, as they are rendered', async () => {
    const all = await found('_count=500&date=lt2100');
    for (const action of ['C', 'R', 'U', 'E']) {
      const some = await found(`action=${action}&_count=500`);
      expect(some.length).toBeGreaterThan(0);
      expect(some.every((one) => one.action === action)).toBe(true);
      const ids = new Set(some.map(({ id }) => id));
      const rest = all.filter(({ id }) => !ids.has(id));
      expect(rest.filter((one) => one.action === action)).toEqual([]);
    }
    expect(await found('action=D')).toEqual([]);
    const failed = await found('outcome=4,8&_count=500');
    expect(failed.length).toBeGreaterThan(2);
    expect(failed.every(({ outcome }) => outcome === '4' || outcome === '8')).toBe(true);
    expect(await found('outcome=12')).toEqual([]);
  });

  it('finds by type and subtype', async () => {
    await gateway.token('sets.check');
    await auditRows(gateway.database.pool, "action = 'sign-in'");
    expect(words(await found('type=http://dicom.nema.org/resources/ontology/DCM|110114'))).toEqual([
      'sign-in',
    ]);
    const own = 'urn:vital-sign-gateway:audit-action';
    expect(words(await found(`subtype=${own}|decision-withdraw`))).toEqual(['decision-withdraw']);
    const reads = await found('subtype=http://hl7.org/fhir/restful-interaction|vread&_count=100');
    expect(words(reads)).toEqual(['fhir-vread']);
  });

  it('finds by time, id, and both', async () => {
    const event = await entryOf(0);
    const { id = '', recorded } = event;
    expect((await found(`date=${recorded}&_id=${id}`)).map((one) => one.id)).toEqual([id]);
    expect((await found(`_lastUpdated=${recorded}&_id=${id}`)).map((one) => one.id)).toEqual([id]);
    expect(await found(`date=gt${recorded}&_id=${id}`)).toEqual([]);
    expect(await found(`date=lt${recorded}&_id=${id}`)).toEqual([]);
  });

  it('comes in pages, newest first or oldest first', async () => {
    // What was recorded before this was written long ago.
    const until = (await entryOf(18)).recorded;
    const walk = async (query: string): Promise<string[]> => {
      const seen: string[] = [];
      let next: string | undefined = `AuditEvent?date=lt${until}&_count=4${query}`;
      while (next !== undefined) {
        const page: Bundle<FhirResource> = (
          await gateway.ask<Bundle<FhirResource>>(`/fhir/${next}`, { token: watcher })
        ).body;
        seen.push(...eventsIn(page).map(({ id = '' }) => id));
        next = page.link
          ?.find(({ relation }) => relation === 'next')
          ?.url.replace(/^.*\/fhir\//, '');
      }
      return seen;
    };
    const down = await walk('');
    const { body } = await search(`date=lt${until}&_summary=count`);
    expect(down).toHaveLength(body.total ?? 0);
    expect(new Set(down).size).toBe(down.length);
    expect(await walk('&_sort=date')).toEqual(down.toReversed());
  });

  it.each([
    ['date=soon', 400],
    ['_sort=outcome', 400],
    ['type=colour', 200],
    ['subtype=.*', 200],
    ['address=127.0.0.1', 400],
    ['agent:missing=true', 400],
    ['patient=LF-39500', 200],
    ['entity=x', 200],
    ['action=Z', 200],
    ['agent=%7C', 200],
  ])('takes %s in its stride: %i', async (query, status) => {
    const answer = await search(query);
    expect([query, answer.status]).toEqual([query, status]);
    if (status === 200) expect(eventsIn(answer.body)).toEqual([]);
  });

  it('is itself on record', async () => {
    const headers = { 'x-request-id': 'who-watches' };
    await gateway.ask('/fhir/AuditEvent?outcome=4', { token: watcher, headers });
    const [row] = await auditRows(gateway.database.pool, "request_id = 'who-watches'");
    expect(row).toMatchObject({ action: 'fhir-search', entity: 'AuditEvent', outcome: 200 });
  });
});

it.each([
  'system/*.rs',
  'system/*.cruds',
  'system/Observation.rs system/Provenance.rs',
  'review.read admin',
])('a token with %s sees none of it', async (scopes) => {
  const token = await gateway.token(scopes);
  const { id = '' } = await entryOf(0);
  for (const path of ['AuditEvent', `AuditEvent/${id}`, `AuditEvent/${id}/_history/1`]) {
    const answer = await gateway.ask(`/fhir/${path}`, { token });
    expect([path, answer.status]).toEqual([path, 403]);
  }
  const posted = await gateway.ask('/fhir/AuditEvent/_search', {
    token,
    body: '',
    headers: { 'content-type': 'application/x-www-form-urlencoded' },
  });
  expect(posted.status).toBe(403);
});

it('means by a code in a search the very entries that it is rendered for', async () => {
  const words = [
    ...['set-received', 'set-refused', 'message-received', 'client-add', 'source-add'],
    ...['device-add', 'mapping-propose', 'edition-approve', 'client-keys', 'device-associate'],
    ...['fhir-read', 'fhir-vread', 'fhir-history', 'fhir-search', 'fhir-operation', 'fhir-batch'],
    ...['review-raw', 'review-list', 'review-summary', 'set-read', 'source-read', 'device-list'],
    ...['association-list', 'register-patient', 'decision-correct', 'patients-merged'],
    ...['hold-deadline', 'identity-settled', 'audit-cleared', 'process-started', 'process-lost'],
    ...['subscription-add', 'subscription-change', 'subscription-delete', 'subscription-notified'],
    ...['looks-lost', 'export-started', 'export-file', 'export-status', 'export-cancelled'],
    ...['sign-in', 'sign-in-refused', 'signed-in', 'signed-in-refused', 'signed-out'],
    ...['person-token', 'refused', 'set-checked', 'desk-write', 'x'],
  ];
  const inDatabase = async (sets: ReturnType<typeof actionsByCode>): Promise<string[]> => {
    const { rows } = await gateway.database.pool.query<{ word: string }>(
      `select word from unnest($1::text[]) as word
        where exists (select from jsonb_to_recordset($2) as s ("like" text, "unlike" text[])
                       where (s.like is null or word ~ s.like) and not word ~ any (s.unlike))`,
      [words, JSON.stringify(sets)],
    );
    return rows.map(({ word }) => word).sort();
  };
  const rendered = (has: (word: string) => boolean): string[] => words.filter(has).sort();
  for (const code of ACTION_CODES) {
    const found = await inDatabase(actionsByCode([{ system: undefined, code }]));
    expect([code, found]).toEqual([code, rendered((word) => actionCodeOf(word) === code)]);
  }
  const types = new Map(words.map((word) => [codingsOf(word).type.code ?? '', word]));
  for (const code of types.keys()) {
    const found = await inDatabase(actionsByType([{ system: undefined, code }]));
    expect([code, found]).toEqual([code, rendered((word) => codingsOf(word).type.code === code)]);
  }
  const subtypes = new Set(
    words.flatMap((word) => codingsOf(word).subtype.map(({ code = '' }) => code)),
  );
  for (const code of subtypes) {
    const found = await inDatabase(actionsBySubtype([{ system: undefined, code }]));
    const has = (word: string): boolean =>
      codingsOf(word).subtype.some((subtype) => subtype.code === code);
    expect([code, found]).toEqual([code, rendered(has)]);
  }
});
