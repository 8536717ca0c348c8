/** People whom a file names. */
import { readFile } from 'node:fs/promises';
import type { Bundle, FhirResource, Patient } from 'fhir/r4.js';
import { noiseOf } from '../demo/noise.js';
import { StartError } from '../errors.js';
import { ageYearsAt, takenAtAge, usualAt } from './person.js';
import type { Person } from './person.js';

/** Where a file does not tell: somebody grown up. */
const SUPPOSED_AGE_YEARS = 50;

/**
 * @param file a Bundle of Patients, as a search for them gives it
 * @throws StartError when it is none, or names nobody.
 */
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
