/** A FHIR Patient out of what a message tells, laid over what is registered already. */
import type { PatientFacts } from '../intake/hl7v2/delivery.js';
import type { Registration } from '../store/register-patient.js';
import type { Identifier } from '../vitals/shapes.js';
import type { Gender } from '../vitals/words.js';

type Resource = Readonly<Record<string, unknown>>;
type Statement = Pick<
  Registration,
  'identifiers' | 'resource' | 'familyName' | 'birthDate' | 'gender'
>;

interface Name {
  readonly family?: string;
  readonly given?: readonly string[];
}

/** @param before the resource as it is registered; null: nobody has registered the patient */
export function patientOfEvent(told: PatientFacts, before: Resource | null): Statement {
  const known = (before ?? {}) as {
    identifier?: readonly Identifier[];
    name?: readonly Name[];
    birthDate?: string;
    gender?: Exclude<Gender, null>;
  };
  const identifiers = joined(known.identifier ?? [], [told.identifier, ...told.others]);
  const name = nameOf(told, known.name?.[0]);
  const birthDate = told.birthDate === undefined ? (known.birthDate ?? null) : told.birthDate;
  const gender = told.gender === undefined ? (known.gender ?? null) : told.gender;
  const resource: Record<string, unknown> = {
    ...before,
    resourceType: 'Patient',
    identifier: identifiers,
    name: name === null ? undefined : [name, ...(known.name ?? []).slice(1)],
    birthDate: birthDate ?? undefined,
    gender: gender ?? undefined,
  };
  // Undefined members are none.
  return {
    identifiers: identifiers.map(({ system, value }) => ({ system, value })),
    resource: JSON.parse(JSON.stringify(resource)) as Resource,
    familyName: name?.family ?? null,
    birthDate,
    gender,
  };
}

/** Those that are registered stay as they stand there, with all that is said of them. */
function joined(known: readonly Identifier[], told: readonly Identifier[]): readonly Identifier[] {
  const fresh = told.filter(
    ({ system, value }, place) =>
      !known.some((one) => one.system === system && one.value === value) &&
      told.findIndex((one) => one.system === system && one.value === value) === place,
  );
  return [...known, ...fresh.map(({ system, value }) => ({ system, value }))];
}

function nameOf({ familyName, givenNames }: PatientFacts, before: Name | undefined): Name | null {
  if (familyName === undefined && givenNames === undefined) return before ?? null;
  const family = familyName === undefined ? before?.family : (familyName ?? undefined);
  const given = givenNames === undefined ? before?.given : (givenNames ?? undefined);
  if (family === undefined && (given === undefined || given.length === 0)) return null;
  return {
    ...before,
    ...(family !== undefined && { family }),
    ...(given !== undefined && given.length > 0 && { given }),
  };
}
