import type { Observation, OperationOutcome } from 'fhir/r4.js';
import { FhirFixture } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

describe('reading an Observation', () => {
  it('gives the newest version with its tag, and 304 to who has it', async () => {
    const patient = await fhir.addPatient('read-1');
    const id = await fhir.addReading(patient);
    const { status, headers, body } = await fhir.ask<Observation>(`Observation/${id}`);
    expect(status).toBe(200);
    expect(headers.get('content-type')).toBe('application/fhir+json; charset=utf-8');
    expect(headers.get('etag')).toBe('W/"1"');
    expect(body).toMatchObject({ id, subject: { reference: `Patient/${patient.id}` } });
    const stamp = Date.parse(body.meta?.lastUpdated ?? '');
    expect(Date.parse(headers.get('last-modified') ?? '')).toBe(Math.floor(stamp / 1000) * 1000);

    for (const tag of ['W/"1"', '"1"', 'W/"9", W/"1"', '*']) {
      const again = await fhir.ask(`Observation/${id}`, { headers: { 'If-None-Match': tag } });
      expect([tag, again.status, again.text]).toEqual([tag, 304, '']);
      expect(again.headers.get('etag')).toBe('W/"1"');
    }
    const other = await fhir.ask(`Observation/${id}`, { headers: { 'If-None-Match': 'W/"2"' } });
    expect(other.status).toBe(200);
  });

  it('answers If-Modified-Since without hiding a version of the same second', async () => {
    const id = await fhir.addReading(await fhir.addPatient('read-2'));
    const since = async (): Promise<[string, number]> => {
      const { headers } = await fhir.ask(`Observation/${id}`);
      const date = headers.get('last-modified') ?? '';
      const again = await fhir.ask(`Observation/${id}`, { headers: { 'If-Modified-Since': date } });
      return [date, again.status];
    };
    const [first, firstStatus] = await since();
    expect(firstStatus).toBe(304);
    await fhir.change(id, { amount: '73', status: 'corrected' });
    const move = async (version: number, stamp: string): Promise<void> => {
      const text = 'update readings set stamp = $3 where reading_id = $1 and version = $2';
      await fhir.database.pool.query(text, [id, version, stamp]);
    };
    await move(2, '2026-03-01T10:00:05.900Z');
    await move(1, '2026-03-01T10:00:05.100Z');
    // Whoever saw the first version may have been told this very date.
    expect(await since()).toEqual(['Sun, 01 Mar 2026 10:00:05 GMT', 200]);
    await move(1, '2026-03-01T10:00:04.999Z');
    expect(await since()).toEqual(['Sun, 01 Mar 2026 10:00:05 GMT', 304]);
    expect(first).toMatch(/GMT$/);
    const hour = 'Sun, 01 Mar 2026 09:00:05 GMT';
    const older = await fhir.ask(`Observation/${id}`, { headers: { 'If-Modified-Since': hour } });
    expect(older.status).toBe(200);
  });

  it('answers HEAD with the same headers and no body', async () => {
    const id = await fhir.addReading(await fhir.addPatient('read-3'));
    const got = await fhir.ask(`Observation/${id}`);
    const head = await fhir.ask(`Observation/${id}`, { method: 'HEAD' });
    expect(head.status).toBe(200);
    expect(head.text).toBe('');
    for (const name of ['etag', 'last-modified', 'content-type', 'content-length']) {
      expect(head.headers.get(name)).toBe(got.headers.get(name));
    }
  });

  it('knows nothing of what is held, rejected or unknown', async () => {
    const patient = await fhir.addPatient('read-4');
    const held = await fhir.addReading(patient, { verdict: 'held', hold: 'value', status: null });
    const rejected = await fhir.addReading(patient, { verdict: 'rejected', status: null });
    const unknown = '0197f3c0-0000-7000-8000-000000000001';
    for (const id of [held, rejected, unknown, 'nonsense', held.toUpperCase()]) {
      for (const path of [id, `${id}/_history`, `${id}/_history/1`]) {
        const { status, body } = await fhir.ask<OperationOutcome>(`Observation/${path}`);
        expect([path, status]).toEqual([path, 404]);
        expect(body.issue[0]).toMatchObject({ severity: 'error', code: 'not-found' });
      }
    }
  });

  it('keeps a withdrawn one, as entered in error', async () => {
    const id = await fhir.addReading(await fhir.addPatient('read-5'));
    await fhir.change(id, { status: 'entered-in-error' });
    const { status, body } = await fhir.ask<Observation>(`Observation/${id}`);
    expect([status, body.status, body.meta?.versionId]).toEqual([200, 'entered-in-error', '2']);
  });
});

describe('reading one version', () => {
  it('gives the same bytes after the next version as before', async () => {
    const id = await fhir.addReading(await fhir.addPatient('vread-1'), { amount: '61' });
    const before = await fhir.ask(`Observation/${id}/_history/1`);
    await fhir.change(id, { amount: '62', status: 'corrected' });
    const after = await fhir.ask(`Observation/${id}/_history/1`);
    expect(after.text).toBe(before.text);
    expect(after.headers.get('etag')).toBe('W/"1"');
    const newest = await fhir.ask(`Observation/${id}`);
    expect((await fhir.ask(`Observation/${id}/_history/2`)).text).toBe(newest.text);
  });

  it('knows only versions that were published', async () => {
    const patient = await fhir.addPatient('vread-2');
    const id = await fhir.addReading(patient, { verdict: 'held', hold: 'value', status: null });
    await fhir.change(id, { hold: null, status: 'final' });
    expect((await fhir.ask(`Observation/${id}/_history/2`)).status).toBe(200);
    for (const version of ['1', '3', '0', '01', '-1', '99999', '1e1', 'x']) {
      const { status } = await fhir.ask(`Observation/${id}/_history/${version}`);
      expect([version, status]).toEqual([version, 404]);
    }
  });
});

describe('access', () => {
  it('asks for the scope of what is done', async () => {
    const id = await fhir.addReading(await fhir.addPatient('scope-1'));
    const status = async (path: string, scopes: string): Promise<number> =>
      (await fhir.ask(path, { scopes })).status;
    expect(await status(`Observation/${id}`, 'system/Observation.r')).toBe(200);
    expect(await status(`Observation/${id}`, 'system/Observation.s')).toBe(403);
    expect(await status('Observation', 'system/Observation.r')).toBe(403);
    expect(await status('Observation', 'system/Observation.s')).toBe(200);
    expect(await status('Patient', 'system/Observation.rs')).toBe(403);
    expect(await status('Observation', 'sets.write')).toBe(403);
  });

  it('refuses what is not offered with an OperationOutcome', async () => {
    const id = await fhir.addReading(await fhir.addPatient('scope-2'));
    for (const [method, path, expected] of [
      ['DELETE', `Observation/${id}`, 405],
      ['PUT', `Observation/${id}`, 405],
      ['PATCH', `Observation/${id}`, 405],
      ['DELETE', 'Patient', 405],
      ['POST', 'Patient', 405],
      ['GET', 'Medication', 404],
    ] as const) {
      const { status, body } = await fhir.ask(path, { method });
      expect([method, path, status, body.resourceType]).toEqual([
        method,
        path,
        expected,
        'OperationOutcome',
      ]);
    }
  });
});
