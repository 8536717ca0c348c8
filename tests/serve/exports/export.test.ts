/**
 * Bulk Data Access (HL7, STU 2 and 3): "Bulk Data Export Operation Request Flow". What a client of that
 * specification does, over a real socket.
 */
import { gunzipSync } from 'node:zlib';
import { get } from 'node:http';
import type { Observation } from 'fhir/r4.js';
import { oxygen, pressure, registerPatient, setOf } from '../../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { panelOf } from '../../setup/panel-faults.js';
import { ASYNC, ExportClient } from './export-client.js';

let gateway: TestGateway;
let sender: string;
let record: ExportClient;
let wren: TestPatient;
let orla: TestPatient;
beforeAll(async () => {
  gateway = await openTestGateway();
  sender = await gateway.token('sets.write');
  record = new ExportClient(gateway, await gateway.token('system/*.rs'));
  wren = await registerPatient(gateway, 'LF-90001');
  orla = await registerPatient(gateway, 'LF-90002');
  await send(wren);
  await send(orla);
});
afterAll(() => gateway.close());

async function send(patient: TestPatient): Promise<SetAnswer> {
  const body = setOf(patient, [oxygen(97), pressure('auscultation', 118, 76)]);
  const answer = await gateway.ask<SetAnswer>('/sets', { token: sender, body });
  expect(answer.status).toBe(201);
  return answer.body;
}

async function idOf({ number }: TestPatient): Promise<string> {
  const { rows } = await gateway.database.pool.query<{ id: string }>(
    'select p.patient_id as id from patients p join patient_identifiers i using (patient_key) where i.value = $1',
    [number],
  );
  return rows[0]?.id ?? '';
}

/** Every newest published version, by asking the database. */
async function published(): Promise<string[]> {
  const { rows } = await gateway.database.pool.query<{ key: string }>(
    `select reading_id || '/' || version as key from readings where superseded is null and status is not null
     union all select panel_id || '/' || version from panels where superseded is null`,
  );
  return rows.map(({ key }) => key).sort();
}

function keysOf(
  found: readonly { id: string; resourceType: string; meta: { versionId: string } }[],
): string[] {
  return found
    .filter(({ resourceType }) => resourceType === 'Observation')
    .map(({ id, meta }) => `${id}/${meta.versionId}`)
    .sort();
}

describe('the flow', () => {
  it('goes from kick-off by status to files that hold everything once', async () => {
    const kickOff = await gateway.ask('/fhir/$export', { token: record.token, headers: ASYNC });
    expect([kickOff.status, kickOff.text]).toEqual([202, '']);
    const address = kickOff.headers.get('content-location') ?? '';
    expect(address).toMatch(new RegExp(`^${gateway.url}/fhir/exports/[0-9a-f-]{36}$`));
    const manifest = await record.manifest(record.pathOf(address));
    expect(manifest).toMatchObject({
      request: `${gateway.url}/fhir/$export`,
      requiresAccessToken: true,
      deleted: [],
      error: [],
    });
    const files = await Promise.all(manifest.output.map(({ url }) => record.lines(url)));
    expect(manifest.output.map(({ type, count }) => [type, count])).toEqual([
      ['Patient', 2],
      ['Observation', 4],
      // The panels of the two sets.
      ['Observation', 2],
    ]);
    expect(keysOf(files.flat())).toEqual(await published());
  });

  it('gives each line as a read of the resource gives it', async () => {
    const { found } = await record.export('$export');
    for (const one of found) {
      const read = await gateway.ask(`/fhir/${one.resourceType}/${one.id}`, {
        token: record.token,
      });
      expect(one).toEqual(read.body);
    }
  });

  it('tells how far it is while it is under way, and answers status and files as the specification says', async () => {
    const path = await record.start('$export?_type=Observation');
    const early = await gateway.ask(path, { token: record.token });
    if (early.status === 202) {
      expect(early.headers.get('x-progress')?.length).toBeLessThanOrEqual(100);
      expect(Number(early.headers.get('retry-after'))).toBeGreaterThan(0);
    }
    const manifest = await record.manifest(path);
    const status = await gateway.ask(path, { token: record.token });
    expect(status.headers.get('content-type')).toBe('application/json');
    expect(Date.parse(status.headers.get('expires') ?? '')).toBeGreaterThan(Date.now());
    const [file] = manifest.output;
    const head = await gateway.ask(record.pathOf(file?.url ?? ''), {
      token: record.token,
      method: 'HEAD',
    });
    expect([head.status, head.headers.get('content-type')]).toEqual([
      200,
      'application/fhir+ndjson',
    ]);
  });

  it('compresses a file where that is accepted', async () => {
    const { manifest } = await record.export('$export?_type=Observation');
    const url = manifest.output[0]?.url ?? '';
    const plain = await gateway.ask(record.pathOf(url), { token: record.token });
    const coded = await new Promise<{ encoding: string | undefined; bytes: Buffer }>(
      (resolve, reject) => {
        const headers = { authorization: `Bearer ${record.token}`, 'accept-encoding': 'gzip' };
        get(url, { headers }, (res) => {
          const chunks: Buffer[] = [];
          res.on('data', (chunk: Buffer) => chunks.push(chunk));
          res.on('end', () => {
            resolve({ encoding: res.headers['content-encoding'], bytes: Buffer.concat(chunks) });
          });
        }).on('error', reject);
      },
    );
    expect(coded.encoding).toBe('gzip');
    expect(gunzipSync(coded.bytes).toString()).toBe(plain.text);
  });

  it('ends by DELETE: 202, and 404 from then on', async () => {
    const path = await record.start('$export');
    const manifest = await record.manifest(path);
    const deleted = await gateway.ask(path, { token: record.token, method: 'DELETE' });
    expect(deleted.status).toBe(202);
    for (const gone of [path, record.pathOf(manifest.output[0]?.url ?? '')]) {
      const answer = await gateway.ask(gone, { token: record.token });
      expect([answer.status, answer.body.resourceType]).toEqual([404, 'OperationOutcome']);
    }
    const again = await gateway.ask(path, { token: record.token, method: 'DELETE' });
    expect(again.status).toBe(404);
  });

  it('ends by itself when its time is over', async () => {
    const path = await record.start('$export');
    const manifest = await record.manifest(path);
    await gateway.database.pool.query(
      'update exports set expires_at = now() where export_id = $1',
      [path.split('/').at(-1)],
    );
    for (const gone of [path, record.pathOf(manifest.output[0]?.url ?? '')]) {
      expect((await gateway.ask(gone, { token: record.token })).status).toBe(404);
    }
  });
});

describe('what is exported', () => {
  it('holds what changed after _since, also what was withdrawn, as it stood at the transaction time', async () => {
    const before = await send(wren);
    const first = await record.export('$export?_type=Observation');
    const { transactionTime } = first.manifest;
    const none = await record.export(`$export?_since=${transactionTime}`);
    expect(none.manifest.output).toEqual([]);
    const index = before.readings[0]?.index ?? 0;
    const withdrawn = await gateway.ask(`/sets/${before.setId}/readings/${index}/decisions`, {
      token: sender,
      body: { action: 'withdraw', reason: 'x', reasonCode: 'duplicate', expectedVersion: 1 },
    });
    expect(withdrawn.status).toBe(200);
    const after = await record.export(`$export?_since=${transactionTime}`);
    expect(after.found.map(({ id, status }) => [id, status])).toEqual([
      [before.readings[0]?.reading, 'entered-in-error'],
      // Its panel has only one member left.
      [panelOf(before), 'entered-in-error'],
    ]);
    expect(after.manifest.transactionTime > transactionTime).toBe(true);
    // The first export is handed out as it was, though a version has been replaced since.
    const lines = await Promise.all(first.manifest.output.map(({ url }) => record.lines(url)));
    expect(lines.flat()).toEqual(first.found);
    const until = await record.export(`$export?_type=Observation&_until=${transactionTime}`);
    const lastUpdated = until.found.map(({ meta }) => meta.lastUpdated);
    expect(lastUpdated.length).toBeGreaterThan(0);
    expect(lastUpdated.every((one) => one < transactionTime)).toBe(true);
  });

  it('holds what meets one of the filters of a type, and all of a type without any', async () => {
    const oxygenOnly = encodeURIComponent('Observation?code=http://loinc.org|59408-5');
    const { found } = await record.export(`$export?_typeFilter=${oxygenOnly}`);
    const observations = found.filter(({ resourceType }) => resourceType === 'Observation');
    expect(observations.length).toBeGreaterThan(1);
    for (const { code } of observations) {
      expect(code?.coding.map((coding) => coding.code)).toContain('59408-5');
    }
    expect(found.filter(({ resourceType }) => resourceType === 'Patient')).toHaveLength(2);
    const id = await idOf(orla);
    const both = encodeURIComponent(
      `Observation?code=59408-5&patient=${id},Observation?status=entered-in-error,corrected`,
    );
    const some = await record.export(`Patient/$export?_type=Observation&_typeFilter=${both}`);
    const expected = (await record.export('$export?_type=Observation')).found.filter(
      ({ status, subject, code }) =>
        status === 'entered-in-error' ||
        (subject?.reference === `Patient/${id}` &&
          code?.coding.some((one) => one.code === '59408-5')),
    );
    expect(expected.length).toBeGreaterThan(1);
    expect(keysOf(some.found)).toEqual(keysOf(expected));
    const none = encodeURIComponent('Observation?_id=0197f3c0-0000-7000-8000-000000000001');
    const empty = await record.export(`$export?_type=Observation&_typeFilter=${none}`);
    expect(empty.manifest.output).toEqual([]);
  });

  it('takes its parameters by POST too, and the patients whose data are wanted', async () => {
    const id = await idOf(orla);
    const body = {
      resourceType: 'Parameters',
      parameter: [
        { name: '_type', valueString: 'Observation,Patient' },
        { name: '_outputFormat', valueString: 'application/fhir+ndjson' },
        { name: '_since', valueInstant: '2020-01-01T00:00:00Z' },
        { name: 'patient', valueReference: { reference: `Patient/${id}` } },
      ],
    };
    const { found } = await record.export('Patient/$export', body);
    // Patient, two readings, and their panel.
    expect(found.length).toBe(4);
    for (const one of found) {
      const about = one.resourceType === 'Patient' ? `Patient/${one.id}` : one.subject?.reference;
      expect(about).toBe(`Patient/${id}`);
    }
  });

  it('holds a ward as a Group: those who are there at the kick-off', async () => {
    const { pool } = gateway.database;
    await pool.query(
      "insert into places (path) values ('fen house/ward 3/bed 1'), ('fen house/ward 30/bed 1')",
    );
    const { rows } = await pool.query<{ id: string }>(
      'select submission_id as id from submissions limit 1',
    );
    const stay = `insert into stays (patient_key, from_at, place_key, submission_id)
      select i.patient_key, '2026-01-01', l.place_key, $3 from patient_identifiers i, places l
       where i.value = $1 and l.path = $2`;
    await pool.query(stay, [wren.number, 'fen house/ward 3/bed 1', rows[0]?.id]);
    await pool.query(stay, [orla.number, 'fen house/ward 30/bed 1', rows[0]?.id]);
    const listed = await gateway.ask<{
      entry: { resource: { id: string; name: string; quantity: number } }[];
    }>('/fhir/Group', { token: record.token });
    const wards = listed.body.entry.map(({ resource }) => resource);
    expect(wards.map(({ name, quantity }) => [name, quantity])).toEqual([
      ['fen house/ward 3', 1],
      ['fen house/ward 30', 1],
    ]);
    const group = wards[0]?.id ?? '';
    expect(group).toBe('fen.20house.2fward.203');
    expect((await gateway.ask(`/fhir/Group/${group}`, { token: record.token })).body).toEqual(
      wards[0],
    );
    const { found } = await record.export(`Group/${group}/$export`);
    const id = await idOf(wren);
    expect(
      found.filter(({ resourceType }) => resourceType === 'Patient').map((one) => one.id),
    ).toEqual([id]);
    const subjects = found.filter(({ resourceType }) => resourceType === 'Observation');
    expect(subjects.length).toBeGreaterThan(2);
    expect(new Set(subjects.map(({ subject }) => subject?.reference))).toEqual(
      new Set([`Patient/${id}`]),
    );
    const both = await record.export('Group/fen.20house/$export?_type=Patient');
    expect(both.found).toHaveLength(2);
    const nobody = await gateway.ask('/fhir/Group/moor/$export', {
      token: record.token,
      headers: ASYNC,
    });
    expect(nobody.status).toBe(404);
  });

  it('holds what was calculated from a pressure as the Observation that it is', async () => {
    const { pool } = gateway.database;
    await pool.query(
      `update readings set derived = '{"pulse-pressure": "42"}'
        where reading_id = (select reading_id from readings where vital = 'blood-pressure' limit 1)`,
    );
    const { found } = await record.export('$export?_type=Observation');
    const derived = found.filter(({ id }) => id.endsWith('.pulse-pressure'));
    expect(derived).toHaveLength(1);
    expect((derived[0] as unknown as Observation).valueQuantity?.value).toBe(42);
    const filter = encodeURIComponent(
      `Observation?code=${derived[0]?.code?.coding[0]?.code ?? ''}`,
    );
    const only = await record.export(`$export?_type=Observation&_typeFilter=${filter}`);
    expect(only.found).toEqual(derived);
  });
});
