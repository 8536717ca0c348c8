/** Bulk Data Access (HL7, STU 2 and 3): whose an export is, and which kick-offs are refused. */
import { oxygen, pressure, registerPatient, setOf } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { ASYNC, ExportClient } from './export-client.js';
import type { Manifest } from './export-client.js';

let gateway: TestGateway;
let record: ExportClient;
beforeAll(async () => {
  gateway = await openTestGateway();
  const sender = await gateway.token('sets.write');
  record = new ExportClient(gateway, await gateway.token('system/*.rs'));
  const wren = await registerPatient(gateway, 'LF-90001');
  const body = setOf(wren, [oxygen(97), pressure('auscultation', 118, 76)]);
  expect((await gateway.ask('/sets', { token: sender, body })).status).toBe(201);
});
afterAll(() => gateway.close());

describe('whose it is', () => {
  it('is one client’s: to others it does not exist', async () => {
    const path = await record.start('$export');
    const manifest = await record.manifest(path);
    const other = await gateway.token('system/*.rs');
    const file = record.pathOf(manifest.output[0]?.url ?? '');
    for (const [at, method] of [
      [path, 'GET'],
      [file, 'GET'],
      [path, 'DELETE'],
    ] as const) {
      expect((await gateway.ask(at, { token: other, method })).status).toBe(404);
    }
    expect((await gateway.ask(path, { token: record.token })).status).toBe(200);
    expect((await gateway.ask(file)).status).toBe(401);
  });

  it('holds only types that the client may read, and refuses others that it names', async () => {
    const narrow = new ExportClient(gateway, await gateway.token('system/Patient.rs'));
    const { manifest } = await narrow.export('$export');
    expect(manifest.output.map(({ type }) => type)).toEqual(['Patient']);
    const named = await gateway.ask('/fhir/$export?_type=Observation', {
      token: narrow.token,
      headers: ASYNC,
    });
    expect(named.status).toBe(403);
    const readOnly = await gateway.token('system/Observation.r');
    expect((await gateway.ask('/fhir/$export', { token: readOnly, headers: ASYNC })).status).toBe(
      403,
    );
  });

  it('holds no more than narrowed scopes let see, and nothing for those of another narrowing', async () => {
    const { pool } = gateway.database;
    const scope = 'system/Observation.rs?code=http://loinc.org|59408-5';
    const narrow = new ExportClient(gateway, await gateway.token(`${scope} system/Patient.rs`));
    const path = await narrow.start('$export');
    const { output } = await narrow.manifest(path);
    const whole = await record.export('$export?_type=Observation');
    expect(output.map(({ type, count }) => [type, count])).toEqual([
      ['Patient', 1],
      ['Observation', 1],
    ]);
    // Two readings and their panel.
    expect(whole.found).toHaveLength(3);
    const [found] = await narrow.lines(output[1]?.url ?? '');
    expect(found?.code?.coding.map(({ code }) => code)).toContain('59408-5');
    await pool.query(
      `update clients set scopes = '{"system/Observation.rs?code=8867-4", "system/Patient.rs"}'
        where client_key = (select client_key from exports where export_id = $1)`,
      [path.split('/').at(-1)],
    );
    // A process remembers a client for two seconds.
    await new Promise((resolve) => setTimeout(resolve, 2_100));
    const answer = await gateway.ask(path, { token: narrow.token });
    expect(answer.status).toBe(403);
  });

  it('gives nothing once a scope of it has ended', async () => {
    const { pool } = gateway.database;
    const client = new ExportClient(
      gateway,
      await gateway.token('system/Observation.rs system/Patient.rs'),
    );
    const path = await client.start('$export');
    const manifest = await client.manifest(path);
    await pool.query(
      `update clients set scopes = '{system/Patient.rs}'
        where client_key = (select client_key from exports where export_id = $1)`,
      [path.split('/').at(-1)],
    );
    // A process remembers a client for two seconds.
    await new Promise((resolve) => setTimeout(resolve, 2_100));
    const file = manifest.output.find(({ type }) => type === 'Observation');
    expect(
      (await gateway.ask(client.pathOf(file?.url ?? ''), { token: client.token })).status,
    ).toBe(403);
    expect((await gateway.ask(path, { token: client.token })).status).toBe(403);
  });

  it('is written down: who started it, and who fetched which file', async () => {
    const path = await record.start('$export?_type=Patient');
    const { output } = await record.manifest(path);
    await record.lines(output[0]?.url ?? '');
    const entity = path.replace('/fhir/', '');
    const { rows } = await gateway.database.pool.query<{ action: string; outcome: number }>(
      'select action, outcome from audit where entity = $1 or starts_with(entity, $2) order by audit_id',
      [entity, `${entity}/files/`],
    );
    expect(rows).toEqual([
      { action: 'export-started', outcome: 202 },
      { action: 'export-file', outcome: 200 },
    ]);
  });
});

describe('what is refused', () => {
  const refused = async (
    path: string,
    ask: { body?: unknown; prefer?: string } = {},
  ): Promise<unknown[]> => {
    const { status, body } = await gateway.ask(`/fhir/${path}`, {
      token: record.token,
      headers: { ...ASYNC, Prefer: ask.prefer ?? 'respond-async' },
      ...(ask.body === undefined ? {} : { body: ask.body }),
    });
    return [path, status, body.resourceType];
  };

  it.each([
    '$export?_type=Medication',
    '$export?_type=Observation,',
    '$export?_type=',
    '$export?_outputFormat=text/csv',
    '$export?_since=yesterday',
    '$export?_since=2026-02-30T00:00:00Z',
    '$export?_since=2026-03-01',
    '$export?_since=2026-03-01T00:00:00Z&_since=2026-03-01T00:00:00Z',
    '$export?_elements=id',
    '$export?includeAssociatedData=LatestProvenanceResources',
    '$export?patient=Patient/0197f3c0-0000-7000-8000-000000000001',
    'Patient/$export?patient=Patient/0197f3c0-0000-7000-8000-000000000001',
    '$export?_typeFilter=Observation',
    '$export?_typeFilter=Patient%3Fidentifier%3Dx',
    '$export?_typeFilter=Observation%3Fcolour%3Dred',
    '$export?_typeFilter=Observation%3Fcode%3D8867-4%26_count%3D1',
    '$export?_typeFilter=Observation%3F_sort%3Ddate',
    '$export?_typeFilter=Observation%3Fdate%3Dge2026-13',
    '$export?_typeFilter=Observation%3Fcode%3D%2500',
    '$export?_type=Patient&_typeFilter=Observation%3Fcode%3D8867-4',
    `$export?_typeFilter=${encodeURIComponent(Array.from({ length: 21 }, () => 'Observation?code=1').join(','))}`,
  ])('%s', async (path) => {
    expect(await refused(path)).toEqual([path, 400, 'OperationOutcome']);
  });

  it('a kick-off that does not say that its answer may come later', async () => {
    const path = '$export';
    expect(await refused(path, { prefer: 'return=minimal' })).toEqual([
      path,
      400,
      'OperationOutcome',
    ]);
  });

  it('what is not offered only unless that is to be passed over', async () => {
    const prefer = 'respond-async, handling=lenient';
    const path = '$export?_elements=id&includeAssociatedData=x';
    expect(await refused(path, { prefer })).toEqual([path, 202, undefined]);
    const wrong = '$export?_since=yesterday';
    expect(await refused(wrong, { prefer })).toEqual([wrong, 400, 'OperationOutcome']);
  });

  it.each([
    ['no Parameters', { resourceType: 'Patient' }],
    ['no list', { resourceType: 'Parameters', parameter: {} }],
    ['no value', { resourceType: 'Parameters', parameter: [{ name: '_type' }] }],
    [
      'two values',
      {
        resourceType: 'Parameters',
        parameter: [{ name: '_type', valueString: 'Patient', valueCode: 'Patient' }],
      },
    ],
    [
      'an object',
      { resourceType: 'Parameters', parameter: [{ name: '_type', valueString: { a: 1 } }] },
    ],
    ['a null', { resourceType: 'Parameters', parameter: [null] }],
    [
      'a zero byte',
      { resourceType: 'Parameters', parameter: [{ name: '_type', valueString: 'a\u0000' }] },
    ],
    [
      'a stranger',
      {
        resourceType: 'Parameters',
        parameter: [
          {
            name: 'patient',
            valueReference: { reference: 'Patient/0197f3c0-0000-7000-8000-000000000001' },
          },
        ],
      },
    ],
    [
      'no patient',
      {
        resourceType: 'Parameters',
        parameter: [
          { name: 'patient', valueReference: { reference: 'https://elsewhere.example/Patient/1' } },
        ],
      },
    ],
    [
      'too many',
      {
        resourceType: 'Parameters',
        parameter: Array.from({ length: 2001 }, () => ({ name: '_type', valueString: 'Patient' })),
      },
    ],
  ])('a body with %s', async (_, body) => {
    const path = 'Patient/$export';
    expect(await refused(path, { body })).toEqual([path, 400, 'OperationOutcome']);
  });

  it('exports and files that there are not', async () => {
    const id = (await record.start('$export')).split('/').at(-1) ?? '';
    await record.manifest(`/fhir/exports/${id}`);
    for (const path of [
      'exports/x',
      'exports/0197f3c0-0000-7000-8000-000000000001',
      `exports/${id.toUpperCase()}x`,
      `exports/${id}/files/0`,
      `exports/${id}/files/01`,
      `exports/${id}/files/99999999999999`,
      `exports/${id}/files/%00`,
    ]) {
      const { status, body } = await gateway.ask(`/fhir/${path}`, { token: record.token });
      expect([path, status, body.resourceType]).toEqual([path, 404, 'OperationOutcome']);
    }
  });

  it('more exports under way than one client may have', async () => {
    const busy = new ExportClient(gateway, await gateway.token('system/*.rs'));
    const paths = [await busy.start('$export')];
    const id = paths[0]?.split('/').at(-1);
    await busy.manifest(paths[0] ?? '');
    // As if other processes were at work on four of them.
    await gateway.database.pool.query(
      `insert into exports (export_id, client_key, request, as_of, selection, requested_at, expires_at, state, lease, leased_until)
       select gen_random_uuid(), client_key, request, as_of, selection, requested_at, expires_at, 'running', gen_random_uuid(), 'infinity'
         from exports, generate_series(1, 4) where export_id = $1`,
      [id],
    );
    const answer = await gateway.ask<Manifest>('/fhir/$export', {
      token: busy.token,
      headers: ASYNC,
    });
    expect([answer.status, answer.headers.get('retry-after')]).toEqual([429, '10']);
    await record.export('$export?_type=Patient');
  });
});
