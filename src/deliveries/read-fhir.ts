/** The Observations that bytes of FHIR hold, read apart from their request: for a trial, or once more. */
import { checkResource } from '../contract/check-resource.js';
import { fhirIntake } from '../compose/fhir-intake.js';
import type { Delivery, SentEntry, Surroundings } from '../compose/fhir-intake.js';
import { askRegister } from '../serve/fhir/ask-register.js';
import type { Pool } from '../store/pool.js';
import type { SourceProfile } from '../vitals/source-profile.js';

/** One thing that is wrong, and where (FHIRPath). */
export interface FhirProblem {
  readonly at: string;
  readonly message: string;
}

export interface FhirRead {
  /** What could be read; null: the bytes are no JSON. */
  readonly delivery: Delivery | null;
  readonly entries: readonly SentEntry[];
  readonly problems: readonly FhirProblem[];
}

/** Reads one resource or a Bundle of them; entries whose form is not that of R4 are left out and told. */
export async function readFhir(
  pool: Pool,
  bytes: Buffer,
  profile: SourceProfile,
): Promise<FhirRead> {
  const read = fhirIntake.readExactJson(bytes);
  if (!read.ok) {
    return { delivery: null, entries: [], problems: [{ at: '', message: read.message }] };
  }
  const { value, digits } = read.json;
  const sent = entriesOf(value);
  const problems = sent.flatMap(formProblems);
  const entries = sent.filter((entry) => !problems.some(({ at }) => at.startsWith(entry.path)));
  const around: Surroundings = {
    linked: isBundle(value) && value.type === 'transaction',
    baseUrl: '',
    profile,
    person: null,
    digits,
    readCriteria: () => 'conditional references are not followed here',
  };
  const register = await askRegister(pool, fhirIntake.questionsOf(entries, around));
  const delivery = fhirIntake.readDelivery(entries, around, register);
  const refused = delivery.fates.flatMap((fate) => (fate.kind === 'refused' ? fate.faults : []));
  return {
    delivery,
    entries,
    problems: [
      ...problems,
      ...refused.map(({ expression, text }) => ({ at: expression, message: text })),
    ],
  };
}

type Json = Readonly<Record<string, unknown>>;

function isObject(value: unknown): value is Json {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function isBundle(value: unknown): value is Json {
  return isObject(value) && value.resourceType === 'Bundle';
}

function entriesOf(value: unknown): SentEntry[] {
  if (!isBundle(value)) {
    return isObject(value) ? [entryOf(value, null, 0, String(value.resourceType))] : [];
  }
  const entries: readonly unknown[] = Array.isArray(value.entry) ? value.entry : [];
  return entries.flatMap((entry, index) =>
    isObject(entry) && isObject(entry.resource)
      ? [entryOf(entry.resource, entry.fullUrl, index, `Bundle.entry[${index}].resource`)]
      : [],
  );
}

function entryOf(resource: Json, fullUrl: unknown, index: number, path: string): SentEntry {
  return {
    index,
    at: `entry ${index + 1}`,
    path,
    fullUrl: typeof fullUrl === 'string' ? fullUrl : null,
    resource,
    criteria: null,
  };
}

function formProblems({ resource, path }: SentEntry): FhirProblem[] {
  if (resource.resourceType !== 'Observation') return [];
  return checkResource('Observation', resource).map(({ expression, text }) => ({
    at: expression.replace(/^Observation/, path),
    message: text,
  }));
}
