import type { BundleEntry, OperationOutcome } from 'fhir/r4.js';
import { bundleFaults } from '../../fhir-validation/bundle-faults.js';
import { FhirFixture } from './fhir-fixture.js';
import type { AnyBundle, Answer } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

function registration(value: string, more: object = {}): object {
  return {
    request: { method: 'PUT', url: `Patient?identifier=urn:example:mrn|${value}` },
    resource: {
      resourceType: 'Patient',
      identifier: [{ system: 'urn:example:mrn', value }],
      name: [{ family: 'Bergmann' }],
      gender: 'male',
      ...more,
    },
  };
}

function post<T = AnyBundle>(
  bundle: object,
  headers: Readonly<Record<string, string>> = {},
): Promise<Answer<T>> {
  return fhir.ask<T>('', {
    method: 'POST',
    body: JSON.stringify(bundle),
    headers: { 'Content-Type': 'application/fhir+json', ...headers },
  });
}

function statuses({ entry = [] }: AnyBundle): string[] {
  return entry.map(({ response }) => response?.status ?? '');
}

function codes({ entry = [] }: AnyBundle): (string | undefined)[] {
  return entry.map(
    ({ response }: BundleEntry) =>
      (response?.outcome as OperationOutcome | undefined)?.issue[0]?.code,
  );
}

describe('a batch (R4 §3.1.0.11)', () => {
  it('registers each on its own and answers in order', async () => {
    const { status, body } = await post({
      resourceType: 'Bundle',
      type: 'batch',
      entry: [
        registration('b-1'),
        registration('b-2', { gender: 'M' }),
        registration('b-1', { birthDate: '1970' }),
        { request: { method: 'POST', url: 'Observation' }, resource: {} },
        { request: { method: 'GET', url: 'Patient?identifier=x|y' } },
        { request: { method: 'PUT', url: 'Patient/1' }, resource: {} },
        { request: { method: 'DELETE', url: 'Patient?identifier=urn:example:mrn|b-1' } },
        {},
        null,
        registration('b-3'),
      ],
    });
    expect(status).toBe(200);
    expect(bundleFaults(body)).toEqual([]);
    expect(statuses(body)).toEqual([
      ...['201 Created', '400 Bad Request', '200 OK', '400 Bad Request'],
      ...Array.from({ length: 5 }, () => '405 Method Not Allowed'),
      '201 Created',
    ]);
    expect(codes(body).slice(1, 9)).toEqual([
      ...['value', undefined, 'structure'],
      ...Array.from({ length: 5 }, () => 'not-supported'),
    ]);
    const { location = '', etag } = body.entry?.[2]?.response ?? {};
    expect(etag).toBe('W/"2"');
    expect((await fhir.ask(location)).status).toBe(200);
    expect(body.entry?.[0]).not.toHaveProperty('resource');
  });

  it('takes absolute addresses and versions, and shows resources when asked to', async () => {
    const { resource } = registration('b-4') as { resource: object };
    const url = `${fhir.url}/fhir/Patient?identifier=urn:example:mrn|b-4`;
    const entry = (ifMatch?: string): object => ({
      request: { method: 'PUT', url, ifMatch },
      resource,
    });
    const { body } = await post(
      { resourceType: 'Bundle', type: 'batch', entry: [entry(), entry('W/"1"'), entry('W/"7"')] },
      { Prefer: 'return=representation' },
    );
    expect(statuses(body)).toEqual(['201 Created', '200 OK', '412 Precondition Failed']);
    expect(body.entry?.[0]?.resource).toMatchObject({ name: [{ family: 'Bergmann' }] });
    expect(bundleFaults(body)).toEqual([]);
  });

  it('may be empty', async () => {
    const { status, text } = await post({ resourceType: 'Bundle', type: 'batch' });
    expect([status, text]).toEqual([200, '{"resourceType":"Bundle","type":"batch-response"}']);
  });

  it.each([
    [{ resourceType: 'Bundle', type: 'transaction', entry: [registration('b-5')] }, 422],
    [{ resourceType: 'Bundle', type: 'collection' }, 400],
    [{ resourceType: 'Patient' }, 400],
    [{ resourceType: 'Bundle', type: 'batch', entry: {} }, 400],
    [[], 400],
    [
      { resourceType: 'Bundle', type: 'batch', entry: Array.from({ length: 1001 }, () => ({})) },
      413,
    ],
  ])('is refused as a whole when it is none: %#', async (bundle, expected) => {
    const { status, body } = await post<OperationOutcome>(bundle);
    expect([status, body.resourceType]).toEqual([expected, 'OperationOutcome']);
  });

  it('refuses an entry that is too large, and no other', async () => {
    const { body } = await post({
      resourceType: 'Bundle',
      type: 'batch',
      entry: [registration('b-6', { name: [{ family: 'x'.repeat(70_000) }] }), registration('b-7')],
    });
    // The phrase of 413 has changed with RFC 9110, and changes with the version of Node.
    expect(statuses(body)).toEqual([expect.stringMatching(/^413 /), '201 Created']);
  });

  it('asks for the scope to create and to update', async () => {
    const ask = async (scopes: string): Promise<number> =>
      (
        await fhir.ask('', {
          method: 'POST',
          scopes,
          body: '{"resourceType":"Bundle","type":"batch"}',
          headers: { 'Content-Type': 'application/fhir+json' },
        })
      ).status;
    expect(await ask('system/Patient.u')).toBe(403);
    expect(await ask('system/Patient.cu')).toBe(200);
    expect(await ask('system/*.cruds')).toBe(200);
  });
});
