/** Sees to it that the gateway knows the people whose readings it will be sent. */
import { readFile } from 'node:fs/promises';
import type { Bundle, FhirResource, Patient } from 'fhir/r4.js';
import { askJson } from '../demo/ask-gateway.js';
import { noiseOf } from '../demo/noise.js';
import { WARD } from '../demo/ward.js';
import { StartError } from '../errors.js';
import type { Identifier } from '../vitals/shapes.js';
import { inventPerson, personOfWard } from './invent-people.js';
import { ageYearsAt, takenAtAge, usualAt } from './person.js';
import type { Person } from './person.js';
import { patientResource } from './protocols/patient-resource.js';
import type { Clients } from './wire/clients.js';

/** As many as an address can name at once, and as many as a page may have. */
const ASKED_AT_ONCE = 25;
const REGISTERED_AT_ONCE = 200;
const FHIR_JSON = 'application/fhir+json';
/** Where a file does not tell: somebody grown up. */
const SUPPOSED_AGE_YEARS = 50;

/** People of a file: a Bundle of Patients, as a search for them gives it. */
export async function readPeople(file: string, nowMs: number): Promise<readonly Person[]> {
  const refuse = (what: string): StartError =>
    new StartError(`The file ${file} ${what}; it must be a FHIR Bundle of Patients in JSON.`);
  const text = await readFile(file, 'utf8').catch(() => {
    throw refuse('cannot be read');
  });
  let bundle: Partial<Bundle<FhirResource>>;
  try {
    bundle = JSON.parse(text) as Partial<Bundle<FhirResource>>;
  } catch {
    throw refuse('is not JSON');
  }
  const people = (bundle.entry ?? [])
    .flatMap(({ resource }) => (resource?.resourceType === 'Patient' ? [resource] : []))
    .flatMap((patient) => personOf(patient, nowMs) ?? []);
  if (people.length === 0) throw refuse('names no patient with an identifier and its system');
  return people;
}

/** Null: there is no identifier that a message could name. */
function personOf(
  { identifier = [], name = [], ...patient }: Patient,
  nowMs: number,
): Person | null {
  const named = identifier.find(({ system, value }) => system !== undefined && value !== undefined);
  if (named?.system === undefined || named.value === undefined) return null;
  const [{ family, given = [] } = {}] = name;
  const { birthDate, gender } = patient;
  const isWhole = birthDate?.length === 'YYYY-MM-DD'.length;
  const ageYears = isWhole ? ageYearsAt(birthDate, nowMs) : SUPPOSED_AGE_YEARS;
  return {
    identifier: { system: named.system, value: named.value },
    ...(family !== undefined && { familyName: family }),
    ...(given[0] !== undefined && { givenName: given[0] }),
    ...(isWhole && { birthDate }),
    ...(gender !== undefined && { gender }),
    taken: takenAtAge(ageYears),
    usual: usualAt(ageYears, noiseOf(`usual ${named.value}`)),
  };
}

/** So many invented people: those of the demo ward first. */
export function inventPeople(count: number, nowMs: number): readonly Person[] {
  const ward = WARD.slice(0, count).map((patient) => personOfWard(patient, nowMs));
  const more = Math.max(0, count - ward.length);
  return [...ward, ...Array.from({ length: more }, (_, number) => inventPerson(number, nowMs))];
}

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
    return birthDate === undefined ? person : { ...person, birthDate };
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
