/** A patient as the person at the bed sees one: what is confirmed by hand, and nothing of the chart. */
import { z } from 'zod';
import type { BedsidePatient } from '../../store/find-bedside-patient.js';
import type { Identifier } from '../../vitals/shapes.js';

const Names = z.array(
  z.object({
    use: z.string().optional(),
    family: z.string().optional(),
    given: z.array(z.string()).optional(),
    text: z.string().optional(),
  }),
);
const Identifiers = z.array(
  z.object({
    use: z.string().optional(),
    system: z.string().optional(),
    value: z.string().optional(),
  }),
);

/** R4 name-use: what somebody is not called any more. */
const PAST_USES: readonly (string | undefined)[] = ['old', 'maiden'];

function nameOf({ resource }: BedsidePatient) {
  const names = Names.safeParse(resource.name).data ?? [];
  const current = names.filter(({ use }) => !PAST_USES.includes(use));
  return current.find(({ use }) => use === 'official') ?? current[0] ?? names[0];
}

function othersOf({ resource, identifier }: BedsidePatient): Identifier[] {
  const all = Identifiers.safeParse(resource.identifier).data ?? [];
  return all.flatMap(({ use, system, value }) => {
    if (use === 'old' || system === undefined || value === undefined) return [];
    const isThis = system === identifier.system && value === identifier.value;
    return isThis ? [] : [{ system, value }];
  });
}

export function renderBedsidePatient(patient: BedsidePatient): object {
  const name = nameOf(patient);
  return {
    identifier: patient.identifier,
    others: othersOf(patient),
    familyName: name?.family ?? patient.familyName ?? name?.text ?? null,
    givenNames: name?.given ?? [],
    birthDate: patient.birthDate,
    gender: patient.gender,
  };
}
