/** Sees to it that the gateway knows the invented people. */
import type { Bundle, FhirResource } from 'fhir/r4.js';
import { askJson } from '../demo/ask-gateway.js';
import { StartError } from '../errors.js';
import type { Identifier } from '../vitals/shapes.js';
import type { Person } from './person.js';
import { patientResource } from './protocols/patient-resource.js';
import type { Clients } from './wire/clients.js';

/** As many as an address can name at once, and as many as a batch should have. */
const ASKED_AT_ONCE = 25;
const REGISTERED_AT_ONCE = 200;
const FHIR_JSON = 'application/fhir+json';

/**
 * Registers those that are not; of those that are, the birth date of the register counts.
 * @throws StartError when somebody is missing and no client may register them.
 */
export async function registerPeople(
  baseUrl: string,
  clients: Clients,
  people: readonly Person[],
): Promise<readonly Person[]> {
  const known = await findRegistered(baseUrl, clients, people);
  const missing = people.filter((person) => !known.has(keyOf(person.identifier)));
  if (missing.length > 0) await register(baseUrl, clients, missing);
  return people.map((person) => {
    const birthDate = known.get(keyOf(person.identifier));
    return birthDate === undefined || birthDate === '' ? person : { ...person, birthDate };
  });
}

function keyOf({ system, value }: Pick<Identifier, 'system' | 'value'>): string {
  return `${system}|${value}`;
}

function requireScope(clients: Clients, scope: 'system/Patient.s' | 'system/Patient.cu'): void {
  if (clients.may(scope)) return;
  throw new StartError(
    `The simulator has to look its invented patients up and register those that are missing, and no client has the scope ${scope}: name one that has, or name patients of the gateway with --patients.`,
  );
}

/** Birth dates by identifier. */
async function findRegistered(
  baseUrl: string,
  clients: Clients,
  people: readonly Person[],
): Promise<ReadonlyMap<string, string>> {
  requireScope(clients, 'system/Patient.s');
  const found = new Map<string, string>();
  for (let from = 0; from < people.length; from += ASKED_AT_ONCE) {
    const asked = people
      .slice(from, from + ASKED_AT_ONCE)
      .map(({ identifier }) => keyOf(identifier));
    const query = new URLSearchParams({ identifier: asked.join(','), _count: '100' });
    const bundle = await askJson<Bundle<FhirResource>>(
      `${baseUrl}/fhir/Patient?${query.toString()}`,
      {
        headers: {
          accept: FHIR_JSON,
          authorization: await clients.authorizationFor('system/Patient.s'),
        },
      },
    );
    for (const { resource } of bundle.entry ?? []) {
      if (resource?.resourceType !== 'Patient') continue;
      for (const { system = '', value = '' } of resource.identifier ?? []) {
        found.set(keyOf({ system, value }), resource.birthDate ?? '');
      }
    }
  }
  return found;
}

async function register(
  baseUrl: string,
  clients: Clients,
  people: readonly Person[],
): Promise<void> {
  requireScope(clients, 'system/Patient.cu');
  for (let from = 0; from < people.length; from += REGISTERED_AT_ONCE) {
    const entry = people.slice(from, from + REGISTERED_AT_ONCE).map((person) => ({
      resource: patientResource(person),
      request: { method: 'PUT', url: `Patient?identifier=${keyOf(person.identifier)}` },
    }));
    const answer = await askJson<Bundle>(`${baseUrl}/fhir`, {
      method: 'POST',
      headers: {
        'content-type': FHIR_JSON,
        accept: FHIR_JSON,
        authorization: await clients.authorizationFor('system/Patient.cu'),
      },
      body: JSON.stringify({ resourceType: 'Bundle', type: 'batch', entry }),
    });
    const failed = (answer.entry ?? []).find(
      ({ response }) => !/^20[01]/.test(response?.status ?? ''),
    );
    if (failed !== undefined) {
      throw new StartError(
        `A patient could not be registered at ${baseUrl}: ${JSON.stringify(failed.response)}`,
      );
    }
  }
}
