import type { Observation, OperationOutcome } from 'fhir/r4.js';
import { indentJson } from '../../../src/serve/fhir/indent-json.js';
import { FhirFixture } from './fhir-fixture.js';

let fhir: FhirFixture;
let path: string;
beforeAll(async () => {
  fhir = await FhirFixture.open();
  const id = await fhir.addReading(await fhir.addPatient('negotiation'), { amount: '72.50' });
  path = `Observation/${id}`;
});
afterAll(() => fhir.close());

async function status(accept: string, query = ''): Promise<number> {
  return (await fhir.ask(path + query, { headers: { Accept: accept } })).status;
}

describe('the form of the answer', () => {
  it.each([
    'application/fhir+json',
    'application/fhir+json; fhirVersion=4.0',
    'application/fhir+json;fhirVersion="4.0"; charset=utf-8',
    'application/json',
    '*/*',
    'application/*;q=0.1',
    'text/html, application/xhtml+xml, */*;q=0.8',
    'application/fhir+xml, application/fhir+json;q=0.5',
    'APPLICATION/FHIR+JSON',
  ])('is FHIR JSON for Accept: %s', async (accept) => {
    const { status: answered, headers } = await fhir.ask(path, { headers: { Accept: accept } });
    expect(answered).toBe(200);
    expect(headers.get('content-type')).toBe('application/fhir+json; charset=utf-8');
    expect(headers.get('vary')).toMatch(/Accept/);
  });

  it.each([
    'application/fhir+xml',
    'text/html',
    'application/fhir+json; fhirVersion=3.0',
    'application/fhir+json; fhirVersion=5.0, application/fhir+xml',
    'application/fhir+json;q=0',
  ])('is refused with an OperationOutcome for Accept: %s', async (accept) => {
    const answer = await fhir.ask<OperationOutcome>(path, { headers: { Accept: accept } });
    expect(answer.status).toBe(406);
    expect(answer.headers.get('content-type')).toBe('application/fhir+json; charset=utf-8');
    expect(answer.body.issue[0]).toMatchObject({
      code: 'not-supported',
      expression: ['http.Accept'],
    });
  });

  it('is what _format says, whatever Accept says', async () => {
    for (const format of [
      'json',
      'application/json',
      'application/fhir+json',
      'application/fhir%2Bjson',
      'application/fhir%2Bjson;fhirVersion=4.0',
    ]) {
      expect([format, await status('application/fhir+xml', `?_format=${format}`)]).toEqual([
        format,
        200,
      ]);
    }
    for (const format of [
      'xml',
      'application/fhir%2Bxml',
      'html',
      'application/fhir%2Bjson;fhirVersion=3.0',
    ]) {
      expect([format, await status('*/*', `?_format=${format}`)]).toEqual([format, 406]);
    }
    expect(await status('*/*', '?_format=json&_format=xml')).toBe(400);
  });

  it('has line breaks with _pretty, and every digit', async () => {
    const { text } = await fhir.ask<Observation>(path);
    const pretty = await fhir.ask<Observation>(`${path}?_pretty=true`);
    expect(text).toContain('"value":72.50');
    expect(pretty.text).toContain('\n    "value": 72.50,\n');
    expect(JSON.parse(pretty.text)).toEqual(JSON.parse(text));
    expect((await fhir.ask(`${path}?_pretty=maybe`)).status).toBe(400);
  });

  it('is laid out as JSON.stringify does, whatever is in it', () => {
    const value = { a: [1, { b: 'x: {"[,]}"\\' }], c: {}, d: [], e: [[]], f: null, 'g\n"': true };
    expect(indentJson(JSON.stringify(value))).toBe(JSON.stringify(value, null, 2));
  });
});
