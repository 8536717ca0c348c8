import type { CapabilityStatement } from 'fhir/r4.js';
import { schemaFaults } from '../../fhir-validation/r4-json-schema.js';
import { FhirFixture, idsIn } from './fhir-fixture.js';
import type { AnyBundle } from './fhir-fixture.js';

/** No wildcard covers these two. */
const EVERY_SCOPE = 'system/*.rs system/AuditEvent.rs system/Subscription.rs';

let fhir: FhirFixture;
let statement: CapabilityStatement;
beforeAll(async () => {
  fhir = await FhirFixture.open();
  statement = (await fhir.ask<CapabilityStatement>('metadata', { scopes: '' })).body;
});
afterAll(() => fhir.close());

function resource(type: string): NonNullable<typeof found> {
  const found = statement.rest?.[0]?.resource?.find((one) => one.type === type);
  if (found === undefined) throw new Error(`nothing about ${type}`);
  return found;
}

describe('the CapabilityStatement', () => {
  it('is answered without a token, with a tag', async () => {
    const { status, headers } = await fhir.ask('metadata', { scopes: '' });
    expect(status).toBe(200);
    const etag = headers.get('etag') ?? '';
    expect(etag).toMatch(/^W\/".{10,}"$/);
    const again = await fhir.ask('metadata', { headers: { 'If-None-Match': etag } });
    expect(again.status).toBe(304);
  });

  // R4 CapabilityStatement: the schema, and cpb-1, cpb-2, cpb-9, cpb-12, cpb-14.
  it('conforms to R4', () => {
    // The package has the schema of 4.0.0, which does not know its own correction yet.
    const older = { ...statement, fhirVersion: '4.0.0' };
    expect(schemaFaults('CapabilityStatement', older)).toEqual([]);
    expect(statement).toMatchObject({
      kind: 'instance',
      fhirVersion: '4.0.1',
      status: 'active',
      implementation: { url: `${fhir.url}/fhir` },
    });
    const resources = statement.rest?.[0]?.resource ?? [];
    expect(new Set(resources.map(({ type }) => type)).size).toBe(resources.length);
    for (const { searchParam = [] } of resources) {
      expect(new Set(searchParam.map(({ name }) => name)).size).toBe(searchParam.length);
    }
  });

  it('lists search parameters that work, and none beside them does', async () => {
    const id = '0197f3c0-0000-7000-8000-000000000001';
    const values: Readonly<Record<string, string>> = {
      patient: id,
      subject: id,
      category: 'vital-signs',
      code: '8867-4',
      _id: id,
      'combo-code': '8480-6',
      date: '2026',
      status: 'final',
      identifier: 'a|b',
      _lastUpdated: '2026',
      _tag: 'unreviewed',
      _profile: 'http://hl7.org/fhir/StructureDefinition/bp',
      ...{ device: id, encounter: id, performer: id, method: '37931006' },
      ...{ 'derived-from': id, 'has-member': id },
      ...{ 'value-quantity': 'gt38', 'component-value-quantity': '1', 'combo-value-quantity': '1' },
      'code-value-quantity': '8867-4$gt1',
      'component-code-value-quantity': '8480-6$gt1',
      'combo-code-value-quantity': '8480-6$gt1',
      'component-code': '8480-6',
      'data-absent-reason': 'error',
      'component-data-absent-reason': 'error',
      'combo-data-absent-reason': 'error',
      name: 'ward',
      ...{ 'based-on': 'ServiceRequest/1', 'part-of': 'Procedure/1', focus: 'Device/1' },
      ...{ specimen: 'Specimen/1', _security: 'R', _source: 'urn:x' },
      ...{ url: 'urn:x', base: 'Observation', criteria: 'http' },
      ...{ target: `Observation/${id}`, recorded: '2026', agent: id, entity: `Observation/${id}` },
      ...{ action: 'R', outcome: '0', type: 'rest', subtype: 'read' },
    };
    const types = (statement.rest?.[0]?.resource ?? []).map(({ type }) => type);
    const served = [
      'Observation',
      'Patient',
      'Provenance',
      'AuditEvent',
      'Group',
      'Device',
      'Encounter',
      'Practitioner',
      'Location',
      'SearchParameter',
      'OperationDefinition',
      'Subscription',
    ];
    expect(types).toEqual(served);
    // Wards belong to another area: tests/serve/exports.
    for (const type of types.filter((one) => one !== 'Group')) {
      const { searchParam = [] } = resource(type);
      expect(searchParam.length).toBeGreaterThan(1);
      for (const { name, definition } of searchParam) {
        expect(definition).toMatch(/^http:\/\/hl7\.org\/fhir\/SearchParameter\//);
        const query = `${type}?${name}=${values[name] ?? ''}`;
        const { status, body } = await fhir.ask<AnyBundle>(query, {
          scopes: EVERY_SCOPE,
          headers: { Prefer: 'handling=strict' },
        });
        expect([query, status, body.type]).toEqual([query, 200, 'searchset']);
      }
      const others = Object.keys(values).filter((name) =>
        searchParam.every((parameter) => parameter.name !== name),
      );
      for (const name of others) {
        const { status } = await fhir.ask(`${type}?${name}=${values[name] ?? ''}`, {
          scopes: EVERY_SCOPE,
        });
        expect([type, name, status]).toEqual([type, name, 400]);
      }
    }
  });

  it('lists includes that work', async () => {
    const { searchInclude = [], searchRevInclude = [] } = resource('Observation');
    expect(searchInclude.length).toBeGreaterThan(4);
    expect(searchRevInclude.toSorted()).toEqual([
      ...['Observation:derived-from', 'Observation:has-member', 'Provenance:target'],
    ]);
    expect(resource('Patient').searchRevInclude).toEqual(['Provenance:target']);
    const queries = [
      ...searchInclude.map((name) => `Observation?_include=${name}`),
      ...searchRevInclude.map((name) => `Observation?_revinclude=${name}`),
      'Patient?_revinclude=Provenance:target',
    ];
    for (const query of queries) {
      const { status } = await fhir.ask(query, { headers: { Prefer: 'handling=strict' } });
      expect([query, status]).toEqual([query, 200]);
    }
  });

  it('lists operations that work', async () => {
    const id = '0197f3c0-0000-7000-8000-000000000001';
    const queries: Readonly<Record<string, string>> = {
      lastn: `patient=${id}&category=vital-signs`,
      stats: `subject=Patient/${id}&code=8867-4&duration=1&statistic=count`,
    };
    const { operation = [] } = resource('Observation');
    expect(operation.map(({ name }) => name)).toEqual(Object.keys(queries));
    for (const { name, definition } of operation) {
      expect(definition).toBe(`http://hl7.org/fhir/OperationDefinition/Observation-${name}`);
      const { status } = await fhir.ask(`Observation/$${name}?${queries[name] ?? ''}`);
      expect([name, status]).toEqual([name, 200]);
    }
  });

  // Subscriptions R5 Backport 1.1.0, CapabilityStatement for R4 servers; what it claims is tried in tests/subscriptions.
  it('names the topics that can be subscribed to, and the operations of the guide', async () => {
    const { extension = [], operation = [], supportedProfile = [] } = resource('Subscription');
    const guide = 'http://hl7.org/fhir/uv/subscriptions-backport';
    expect(statement.instantiates).toContain(
      `${guide}/CapabilityStatement/backport-subscription-server-r4`,
    );
    expect(supportedProfile).toEqual([`${guide}/StructureDefinition/backport-subscription`]);
    expect(extension.map(({ valueCanonical }) => valueCanonical)).toEqual(
      ['new', 'corrected', 'withdrawn', 'published'].map(
        (name) => `${fhir.url}/fhir/SubscriptionTopic/vital-sign-${name}`,
      ),
    );
    expect(new Set(extension.map(({ url }) => url))).toEqual(
      new Set([`${guide}/StructureDefinition/capabilitystatement-subscriptiontopic-canonical`]),
    );
    expect(operation.map(({ name, definition }) => [name, definition])).toEqual(
      ['status', 'events'].map((name) => [
        ...[name, `${guide}/OperationDefinition/backport-subscription-${name}`],
      ]),
    );
    const { status } = await fhir.ask('Subscription/$status', { scopes: 'system/Subscription.s' });
    expect(status).toBe(200);
  });

  it('claims the interactions that are offered, and no others', async () => {
    const patient = await fhir.addPatient('metadata');
    const id = await fhir.addReading(patient);
    const codes = (type: string): string[] =>
      (resource(type).interaction ?? []).map(({ code }) => code);
    const answers: Readonly<Record<string, string>> = {
      read: `Observation/${id}`,
      vread: `Observation/${id}/_history/1`,
      'history-instance': `Observation/${id}/_history`,
      'history-type': 'Observation/_history',
      'search-type': 'Observation',
    };
    expect(codes('Observation').sort()).toEqual([...Object.keys(answers), 'create'].sort());
    for (const path of Object.values(answers)) expect((await fhir.ask(path)).status).toBe(200);
    expect(codes('Patient').sort()).toEqual(Object.keys(answers).sort());
    expect(resource('Patient').conditionalUpdate).toBe(true);
    expect(resource('Observation').conditionalCreate).toBe(true);
    for (const path of ['Observation', '']) {
      const { status } = await fhir.ask(path, {
        method: 'POST',
        scopes: 'system/Observation.c',
        headers: { 'Content-Type': 'application/fhir+json' },
        body: '{}',
      });
      expect([path, status]).toEqual([path, 400]);
    }
    for (const [method, path] of [
      ['PUT', `Observation/${id}`],
      ['PATCH', `Observation/${id}`],
      ['DELETE', `Observation/${id}`],
      ['POST', 'Patient'],
      ['PUT', `Patient/${patient.id}`],
    ] as const) {
      expect((await fhir.ask(path, { method })).status).toBe(405);
    }
  });

  it('names the profiles that Observations are rendered with', async () => {
    const patient = await fhir.addPatient('metadata-profiles');
    await fhir.addReadings(patient, [
      {},
      { vital: 'blood-pressure', systolic: '120' },
      { vital: 'consciousness', code: 'alert' },
    ]);
    const { body } = await fhir.ask<AnyBundle>(`Observation?patient=${patient.id}`);
    expect(idsIn(body)).toHaveLength(3);
    const used = (body.entry ?? []).flatMap(({ resource: shown }) => shown?.meta?.profile ?? []);
    expect(resource('Observation').supportedProfile).toEqual(expect.arrayContaining(used));
  });
});
