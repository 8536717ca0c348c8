import type { CapabilityStatement, OperationDefinition, SearchParameter } from 'fhir/r4.js';
import { schemaFaults } from '../../fhir-validation/r4-json-schema.js';
import { FhirFixture } from './fhir-fixture.js';
import type { AnyBundle } from './fhir-fixture.js';

let fhir: FhirFixture;
beforeAll(async () => {
  fhir = await FhirFixture.open();
});
afterAll(() => fhir.close());

const SCOPES = { scopes: 'system/*.rs' };

async function all<Type>(query: string): Promise<Type[]> {
  const { status, body } = await fhir.ask<AnyBundle>(query, SCOPES);
  expect(status).toBe(200);
  return (body.entry ?? []).map(({ resource }) => resource as unknown as Type);
}

describe('SearchParameter', () => {
  it('is there for every parameter that the statement lists, and conforms to R4', async () => {
    const { body } = await fhir.ask<CapabilityStatement>('metadata', { scopes: '' });
    const found = await all<SearchParameter>('SearchParameter?_count=1000');
    const declared = (body.rest?.[0]?.resource ?? []).flatMap(({ type, searchParam = [] }) =>
      searchParam.map(({ name, definition }) => [type, name, definition]),
    );
    expect(declared.length).toBeGreaterThan(40);
    expect(found.map(({ base, code, derivedFrom }) => [base[0], code, derivedFrom])).toHaveLength(
      declared.length,
    );
    for (const [type, name, definition] of declared) {
      const one = found.find(({ base, code }) => base[0] === type && code === name);
      expect([type, name, one?.derivedFrom]).toEqual([type, name, definition]);
    }
    for (const one of found)
      expect([one.id, schemaFaults('SearchParameter', one)]).toEqual([one.id, []]);
    expect(new Set(found.map(({ url }) => url)).size).toBe(found.length);
  });

  // The expressions of R4's search-parameters registry (FHIR 4.0.1), as far as they speak of Observation.
  it('says of Observation where each value stands', async () => {
    const found = await all<SearchParameter>('SearchParameter?base=Observation&_count=1000');
    for (const { code, expression } of found) {
      expect([code, expression]).toEqual([
        code,
        expect.stringMatching(/^[(]?(Observation|Resource)/),
      ]);
    }
    const composite = found.find(({ code }) => code === 'component-code-value-quantity');
    const urls = found.map(({ url }) => url);
    for (const { definition } of composite?.component ?? []) expect(urls).toContain(definition);
    expect(composite).toMatchObject({ expression: 'Observation.component', type: 'composite' });
  });

  it('is found by address, code and id, page by page', async () => {
    const [code] = await all<SearchParameter>('SearchParameter?code=combo-code');
    expect(code).toMatchObject({ id: 'Observation-combo-code', base: ['Observation'] });
    expect(await all(`SearchParameter?url=${code?.url ?? ''}`)).toEqual([code]);
    const { body } = await fhir.ask<SearchParameter>(
      'SearchParameter/Observation-combo-code',
      SCOPES,
    );
    expect(body).toEqual(code);
    const seen: (string | undefined)[] = [];
    let query: string | undefined = 'SearchParameter?base=Observation&_count=7';
    while (query !== undefined) {
      const page: { body: AnyBundle } = await fhir.ask<AnyBundle>(query, SCOPES);
      seen.push(...(page.body.entry ?? []).map(({ resource }) => resource?.id));
      const next = page.body.link?.find(({ relation }) => relation === 'next')?.url;
      query = next?.slice(`${fhir.url}/fhir/`.length);
    }
    expect(seen).toEqual([...new Set(seen)].sort());
    expect(seen).toHaveLength((await all('SearchParameter?base=Observation&_count=1000')).length);
  });

  it('asks for a scope, and tells what there is not', async () => {
    expect((await fhir.ask('SearchParameter', { scopes: 'system/Patient.rs' })).status).toBe(403);
    expect((await fhir.ask('SearchParameter/Observation-colour', SCOPES)).status).toBe(404);
    expect((await fhir.ask('SearchParameter?_sort=code', SCOPES)).status).toBe(400);
  });
});

describe('OperationDefinition', () => {
  it('is there for every operation that the statement lists, and conforms to R4', async () => {
    const found = await all<OperationDefinition>('OperationDefinition?_count=1000');
    const named = found.map(({ id }) => id);
    expect(named).toEqual(
      expect.arrayContaining([
        'Observation-lastn',
        'Observation-stats',
        'Patient-export',
        'system-export',
      ]),
    );
    for (const one of found) {
      expect([one.id, schemaFaults('OperationDefinition', one)]).toEqual([one.id, []]);
      expect(one.base).toMatch(/^http:\/\/hl7\.org\/fhir\//);
    }
    const [stats] = await all<OperationDefinition>('OperationDefinition?code=stats');
    expect(stats).toMatchObject({ type: true, instance: false, resource: ['Observation'] });
  });
});
