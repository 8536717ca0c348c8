/**
 * Scopes narrowed by search parameters: SMART App Launch 2.2, "Finer-grained resource constraints using
 * search parameters", and that nothing beyond them leaks by any road.
 */
import type { Bundle, OperationOutcome } from 'fhir/r4.js';
import { RESTRICTING_PARAMETERS } from '../../../src/serve/auth/fhir-scopes.js';
import { OBSERVATION_PARAMETERS } from '../../../src/serve/fhir/search-parameters.js';
import { FhirFixture, idsIn, outcomesIn } from './fhir-fixture.js';
import type { AnyBundle, ReadingWords, TestPatient } from './fhir-fixture.js';

const LOINC = 'http://loinc.org';
const PULSE = `system/Observation.rs?code=${LOINC}|8867-4`;
const SATURATION = `system/Observation.rs?code=${LOINC}|2708-6`;
const DERIVED = 'urn:vital-sign-gateway:derived';
const PRESSURE: ReadingWords = { vital: 'blood-pressure', systolic: '120', diastolic: '80' };
const CATEGORY = 'http://terminology.hl7.org/CodeSystem/observation-category';

let fhir: FhirFixture;
let patient: TestPatient;
let pulse: string;
let saturation: string;
let pressure: string;

beforeAll(async () => {
  fhir = await FhirFixture.open();
  // Every way of seeing is tried on what is calculated too.
  await fhir.switchDerivedOn();
  patient = await fhir.addPatient('narrowed');
  pulse = await fhir.addReading(patient, { vital: 'pulse-rate' });
  saturation = await fhir.addReading(patient, { vital: 'oxygen-saturation', amount: '96' });
  pressure = await fhir.addReading(patient, {
    vital: 'blood-pressure',
    ...{ method: 'oscillometry', systolic: '120', diastolic: '80', amount: null },
  });
});
afterAll(() => fhir.close());

async function status(path: string, scopes: string): Promise<number> {
  return (await fhir.ask(path, { scopes })).status;
}

async function found(scopes: string, query = ''): Promise<string[]> {
  const { body } = await fhir.ask<AnyBundle>(`Observation?${query}`, { scopes });
  return idsIn(body).sort();
}

describe('a scope narrowed to a code', () => {
  it('reads that and nothing else: the rest is answered as not there', async () => {
    expect(await status(`Observation/${pulse}`, PULSE)).toBe(200);
    const hidden = await fhir.ask<OperationOutcome>(`Observation/${saturation}`, { scopes: PULSE });
    const absent = await fhir.ask('Observation/0197f3c0-0000-7000-8000-000000000009', {
      scopes: PULSE,
    });
    expect(hidden.status).toBe(404);
    // Word for word, so that nobody learns which ids there are.
    expect(hidden.text).toBe(absent.text);
    expect(hidden.headers.get('etag')).toBeNull();
    const known = { headers: { 'If-None-Match': '*' }, scopes: PULSE };
    expect((await fhir.ask(`Observation/${saturation}`, known)).status).toBe(404);
    expect(await status(`Observation/${saturation}/_history/1`, PULSE)).toBe(404);
    expect(await status(`Observation/${saturation}/_history`, PULSE)).toBe(404);
    expect(await status(`Observation/${saturation}/_history?_count=1`, PULSE)).toBe(404);
    const head = await fhir.ask(`Observation/${saturation}`, { method: 'HEAD', scopes: PULSE });
    expect(head.status).toBe(404);
  });

  it('finds that and nothing else, by address and by form', async () => {
    expect(await found(PULSE)).toEqual([pulse]);
    expect(await found(PULSE, `_id=${saturation},${pulse}`)).toEqual([pulse]);
    expect(await found(PULSE, `code=${LOINC}|2708-6`)).toEqual([]);
    expect(await found(PULSE, `patient=${patient.id}`)).toEqual([pulse]);
    const { body } = await fhir.ask<AnyBundle>('Observation/_search', {
      method: 'POST',
      scopes: PULSE,
      headers: { 'Content-Type': 'application/x-www-form-urlencoded' },
      body: `patient=${patient.id}`,
    });
    expect(idsIn(body)).toEqual([pulse]);
  });

  it('counts no more than it shows, held readings among it', async () => {
    const waiting: ReadingWords = { verdict: 'held', hold: 'value', status: null };
    await fhir.addReading(patient, { vital: 'oxygen-saturation', ...waiting });
    await fhir.addReading(patient, { vital: 'pulse-rate', ...waiting });
    const tell = async (scopes: string): Promise<[number | undefined, string[]]> => {
      const { body } = await fhir.ask<Bundle>('Observation?_total=accurate&_count=1', { scopes });
      const issues = outcomesIn(body as AnyBundle).flatMap(({ issue }) => issue);
      return [
        body.total,
        issues.map(({ diagnostics, details }) => diagnostics ?? details?.text ?? ''),
      ];
    };
    expect(await tell(PULSE)).toEqual([
      1,
      ['held=1', expect.stringContaining('only some') as string],
    ]);
    expect(await tell('system/Observation.rs')).toEqual([3, ['held=2']]);
    const counted = await fhir.ask<Bundle>('Observation?_summary=count', { scopes: PULSE });
    expect(counted.body.total).toBe(1);
  });

  it('stays narrowed from page to page, and a page of a wider token gives no more', async () => {
    const more = await fhir.addReadings(patient, [{}, { vital: 'oxygen-saturation' }, {}]);
    const wide = await fhir.ask<Bundle>('Observation?_count=1&_sort=_lastUpdated');
    const next = wide.body.link?.find(({ relation }) => relation === 'next')?.url ?? '';
    expect(next).not.toBe('');
    const seen: string[] = [];
    for (let url: string | undefined = next; url !== undefined;) {
      const { body }: { body: AnyBundle } = await fhir.ask<AnyBundle>(url, { scopes: PULSE });
      seen.push(...idsIn(body));
      url = body.link?.find(({ relation }) => relation === 'next')?.url;
    }
    expect(seen.sort()).toEqual([more[0], more[2]].sort());
  });

  it('sees of the history of the type only its own', async () => {
    const { body } = await fhir.ask<AnyBundle>('Observation/_history', { scopes: SATURATION });
    expect(idsIn(body)).toContain(saturation);
    expect(idsIn(body)).not.toContain(pulse);
    expect(idsIn(body)).not.toContain(pressure);
  });

  it('opens no other type, and no writing', async () => {
    for (const path of ['Patient', `Patient/${patient.id}`, 'Patient/_history']) {
      expect([path, await status(path, PULSE)]).toEqual([path, 403]);
    }
    const registering = { method: 'PUT', scopes: PULSE, body: '{}' };
    const headers = { 'Content-Type': 'application/fhir+json' };
    const put = await fhir.ask('Patient?identifier=a|b', { ...registering, headers });
    expect(put.status).toBe(403);
  });

  it('gets nothing through a batch', async () => {
    const entry = [`Observation/${saturation}`, `Observation?_id=${saturation}`, 'Observation'].map(
      (url) => ({ request: { method: 'GET', url } }),
    );
    const body = JSON.stringify({ resourceType: 'Bundle', type: 'batch', entry });
    for (const scopes of [PULSE, `${PULSE} system/Patient.cu`]) {
      const answer = await fhir.ask('', {
        ...{ method: 'POST', body, scopes },
        headers: { 'Content-Type': 'application/fhir+json', Prefer: 'return=representation' },
      });
      expect(answer.text).not.toContain(saturation);
      expect(answer.text).not.toContain('"resource":{"resourceType":"Observation"');
    }
  });

  it('needs r to read and s to search, as without narrowing', async () => {
    const reading = PULSE.replace('.rs', '.r');
    const searching = PULSE.replace('.rs', '.s');
    expect(await status(`Observation/${pulse}`, reading)).toBe(200);
    expect(await status('Observation', reading)).toBe(403);
    expect(await status('Observation/_history', reading)).toBe(403);
    expect(await status(`Observation/${pulse}`, searching)).toBe(403);
    expect(await found(searching, `_id=${pulse}`)).toEqual([pulse]);
    // Each letter has its own narrowing.
    const both = `${reading} system/Observation.s?code=${LOINC}|2708-6`;
    expect(await found(both, `_id=${pulse},${saturation}`)).toEqual([saturation]);
    expect(await status(`Observation/${saturation}`, both)).toBe(404);
  });
});

describe('several scopes', () => {
  it('let see what one of them does', async () => {
    const scopes = `${PULSE} ${SATURATION}`;
    const query = `_id=${pulse},${saturation},${pressure}`;
    expect(await found(scopes, query)).toEqual([pulse, saturation].sort());
    expect(await status(`Observation/${pressure}`, scopes)).toBe(404);
    expect(await found(`${PULSE} system/Observation.s`, query)).toHaveLength(3);
    expect(await found(`${PULSE} system/*.rs`, query)).toHaveLength(3);
  });

  it('of one scope, several parameters are all asked for', async () => {
    const other = await fhir.addReading(patient, { status: 'preliminary' });
    const scopes = `${PULSE}&status=final`;
    expect(await status(`Observation/${pulse}`, scopes)).toBe(200);
    expect(await status(`Observation/${other}`, scopes)).toBe(404);
    expect(await found(scopes, `_id=${pulse},${other}`)).toEqual([pulse]);
  });
});

describe('versions', () => {
  it('are each judged by what they say themselves', async () => {
    const id = await fhir.addReading(patient, { status: 'preliminary' });
    await fhir.change(id, { status: 'final' });
    await fhir.change(id, { status: 'entered-in-error' });
    const final = 'system/Observation.rs?status=final';
    expect(await status(`Observation/${id}`, final)).toBe(404);
    expect(await status(`Observation/${id}/_history/1`, final)).toBe(404);
    expect(await status(`Observation/${id}/_history/2`, final)).toBe(200);
    const { body } = await fhir.ask<AnyBundle>(`Observation/${id}/_history`, { scopes: final });
    expect(body.entry?.map(({ response }) => response?.etag)).toEqual(['W/"2"']);
    expect(await status(`Observation/${id}/_history`, 'system/Observation.r?status=amended')).toBe(
      404,
    );
  });
});

describe('the ways of seeing', () => {
  it.each([
    `category=${CATEGORY}|vital-signs`,
    'category=vital-signs',
    `category=${CATEGORY}|laboratory`,
    'category=laboratory',
    'code=8867-4',
    `code=${LOINC}|8867-4,${LOINC}|85354-9`,
    `code=${LOINC}|`,
    'code=8889-8',
    'code=8480-6',
    'combo-code=8480-6',
    'combo-code=8478-0',
    'status=final',
    'status=final,entered-in-error&code=8867-4',
    'status=unknown-word',
    'code=8867-4&code=2708-6',
    `code=${DERIVED}|mean-pressure`,
    `code=${DERIVED}|`,
    `code=${LOINC}|85354-9,${DERIVED}|pulse-pressure&status=final`,
    'status=entered-in-error',
  ])('agree on ?%s', async (query) => {
    const many = await fhir.addPatient(`agree ${query}`);
    const ids = await fhir.addReadings(many, [
      { vital: 'pulse-rate', method: 'palpation', site: 'radial-artery' },
      { vital: 'pulse-rate', method: 'pulse-oximetry', status: 'preliminary' },
      { vital: 'pulse-rate', status: 'entered-in-error' },
      { vital: 'oxygen-saturation', amount: '97' },
      { vital: 'body-temperature', amount: '36.6', site: 'oral' },
      PRESSURE,
      { ...PRESSURE, mean: '93' },
      { vital: 'consciousness', amount: null, code: 'alert' },
      { ...PRESSURE, derived: { 'pulse-pressure': '40', 'mean-pressure': '93', factor: '1/3' } },
      { ...PRESSURE, derived: { 'pulse-pressure': null, 'mean-pressure': '93', factor: '1/3' } },
    ]);
    const shown = ids.flatMap((id) => [id, `${id}.pulse-pressure`, `${id}.mean-pressure`]);
    const scopes = `system/Observation.rs?${query}`;
    const searched = await found(scopes, `patient=${many.id}`);
    const asked = await found('system/Observation.rs', `patient=${many.id}&${query}`);
    const read: string[] = [];
    const traced: string[] = [];
    for (const id of shown) {
      if ((await status(`Observation/${id}`, scopes)) === 200) read.push(id);
      if ((await status(`Observation/${id}/_history`, scopes)) === 200) traced.push(id);
    }
    expect(searched).toEqual(asked);
    expect(read.sort()).toEqual(asked);
    expect(traced.sort()).toEqual(asked);
  });

  it('are narrowed by search parameters that there are', () => {
    const names = OBSERVATION_PARAMETERS.map(({ name }) => name);
    expect(names).toEqual(expect.arrayContaining([...RESTRICTING_PARAMETERS]));
  });
});
