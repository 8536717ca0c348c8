import type { CapabilityStatement, Observation, Patient } from 'fhir/r4.js';
import { Client } from 'fhir-kit-client';
import { ALL_SCOPES, FhirFixture, idsIn } from './fhir-fixture.js';
import type { AnyBundle } from './fhir-fixture.js';

let fhir: FhirFixture;
let client: Client;
beforeAll(async () => {
  fhir = await FhirFixture.open();
  client = new Client({ baseUrl: `${fhir.url}/fhir`, bearerToken: ALL_SCOPES });
});
afterAll(() => fhir.close());

type Paged = Parameters<Client['nextPage']>[0]['bundle'];

/** The library types every resource as having a type and no more. */
async function as<T>(answer: Promise<unknown> | undefined): Promise<T> {
  return (await answer) as T;
}

/** `fhir-kit-client`, a general FHIR client library, doing what a record does. */
describe('a general FHIR client', () => {
  it('reads the CapabilityStatement', async () => {
    const statement = await as<CapabilityStatement>(client.capabilityStatement());
    expect(statement.fhirVersion).toBe('4.0.1');
  });

  it('registers a patient, finds it, and reads it', async () => {
    const body = {
      resourceType: 'Patient',
      identifier: [{ system: 'urn:example:mrn', value: 'kit-1' }],
      name: [{ family: 'Corvin' }],
      gender: 'other',
    };
    const searchParams = { identifier: 'urn:example:mrn|kit-1' };
    const created = await as<Patient>(
      client.update({
        resourceType: 'Patient',
        searchParams,
        body,
      }),
    );
    expect(created.meta?.versionId).toBe('1');
    const found = await as<AnyBundle>(client.search({ resourceType: 'Patient', searchParams }));
    expect(found.entry?.map(({ resource }) => resource?.id)).toEqual([created.id]);
    const read = await as<Patient>(client.read({ resourceType: 'Patient', id: created.id ?? '' }));
    expect(read).toEqual(created);
  });

  it('searches by GET and by POST, and follows the pages', async () => {
    const patient = await fhir.addPatient('kit-2');
    const ids = await fhir.addReadings(patient, [{}, {}, {}, {}, {}]);
    for (const postSearch of [false, true]) {
      const shown: string[] = [];
      let bundle: AnyBundle | undefined = await as<AnyBundle>(
        client.search({
          resourceType: 'Observation',
          searchParams: { patient: patient.id, category: 'vital-signs', _count: '2' },
          options: { postSearch },
        }),
      );
      while (bundle !== undefined) {
        shown.push(...idsIn(bundle));
        bundle = await as<AnyBundle | undefined>(
          client.nextPage({ bundle: bundle as unknown as Paged }),
        );
      }
      expect(shown.sort()).toEqual([...ids].sort());
    }
  });

  it('reads versions and histories', async () => {
    const patient = await fhir.addPatient('kit-3');
    const id = await fhir.addReading(patient);
    await fhir.change(id, { amount: '80', status: 'corrected' });
    const newest = await as<Observation>(client.read({ resourceType: 'Observation', id }));
    expect([newest.status, newest.meta?.versionId]).toEqual(['corrected', '2']);
    const first = await as<Observation>(
      client.vread({ resourceType: 'Observation', id, version: '1' }),
    );
    expect(first.status).toBe('final');
    const history = await as<AnyBundle>(client.history({ resourceType: 'Observation', id }));
    expect(idsIn(history)).toEqual([id, id]);
  });

  it('searches by value and chain, brings the patient along, and asks for the last values', async () => {
    const patient = await fhir.addPatient('kit-4');
    const [, hot = ''] = await fhir.addReadings(patient, [
      { vital: 'body-temperature', amount: '37.1', at: '2026-03-01T08:00:00Z' },
      { vital: 'body-temperature', amount: '39.4', at: '2026-03-01T07:00:00Z' },
    ]);
    const found = await as<AnyBundle>(
      client.search({
        resourceType: 'Observation',
        searchParams: {
          'patient.identifier': 'urn:example:mrn|kit-4',
          'value-quantity': 'gt38|http://unitsofmeasure.org|Cel',
          _include: 'Observation:patient',
        },
      }),
    );
    expect(idsIn(found)).toEqual([hot]);
    const last = await as<AnyBundle>(
      client.operation({
        name: 'lastn',
        resourceType: 'Observation',
        method: 'GET',
        input: { patient: patient.id, category: 'vital-signs', max: 1 },
      }),
    );
    expect(idsIn(last)).toHaveLength(1);
    expect(idsIn(last)).not.toContain(hot);
  });
});
