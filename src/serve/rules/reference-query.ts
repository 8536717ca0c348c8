/** What checks against a known value are searched by, and under which names people are shown. */
import { createHash } from 'node:crypto';
import type { Request } from 'express';
import { z } from 'zod';
import type { CheckSearch } from '../../store/reference-checks.js';
import { REFERENCE_KINDS } from '../../vitals/reference-check.js';
import type { Identifier } from '../../vitals/shapes.js';
import { VITALS } from '../../vitals/words.js';
import { hasScope } from '../auth/scopes.js';
import { HttpError } from '../http/http-error.js';
import type { Caller, ParameterSpec } from '../http/route.js';
import { identifier, instant, whole, word } from '../review/parameter-forms.js';
import { readQuery } from '../review/read-search.js';
import { timeParameters } from '../review/search-parameters.js';

const DEFAULT_LIMIT = 100;
const MAX_LIMIT = 1_000;

const Query = z.strictObject({
  device: identifier.optional(),
  person: identifier.optional(),
  vital: word(VITALS).optional(),
  kind: word(REFERENCE_KINDS).optional(),
  takenFrom: instant.optional(),
  takenTo: instant.optional(),
  limit: whole(1, MAX_LIMIT).default(DEFAULT_LIMIT),
});

const parameter = (name: string, description: string, schema: object): ParameterSpec => ({
  name,
  in: 'query',
  description,
  schema: schema as Record<string, unknown>,
});

export const CHECK_PARAMETERS: readonly ParameterSpec[] = [
  parameter('device', 'The device that was checked, as `system|value`.', { type: 'string' }),
  parameter(
    'person',
    'The person who took it, as `system|value`. Others than oneself only with the scope people.read.',
    { type: 'string' },
  ),
  parameter('vital', 'The sign.', { type: 'string', enum: VITALS }),
  parameter('kind', 'What gave the known value.', { type: 'string', enum: REFERENCE_KINDS }),
  ...timeParameters('taken', 'Taken'),
  parameter('limit', `How many at most, the newest; ${DEFAULT_LIMIT} when absent.`, {
    type: 'integer',
    minimum: 1,
    maximum: MAX_LIMIT,
  }),
];

/** Figures by person are for those who may see them, and everybody's own. */
export function maySee({ scopes, person }: Caller, shown: Identifier): boolean {
  const own = person?.system === shown.system && person.value === shown.value;
  return own || hasScope(scopes, 'people.read');
}

/** A person for those who may not know who it is: the same person has the same name everywhere here. */
export function pseudonymOf(personId: string): string {
  return `person-${createHash('sha256').update(personId).digest('hex').slice(0, 12)}`;
}

/** The search of an address; throws a 400, or a 403 for figures by a person not one's own. */
export function readCheckSearch(
  req: Request,
  caller: Caller,
): { readonly search: CheckSearch; readonly limit: number } {
  const { takenFrom, takenTo, limit, ...asked } = readQuery(req, Query);
  if (asked.person !== undefined && !maySee(caller, asked.person)) {
    const detail = 'Figures by person need the scope people.read, unless they are your own.';
    throw new HttpError({ status: 403, detail });
  }
  const taken = { fromMs: takenFrom ?? null, toMs: takenTo ?? null };
  return { search: { ...asked, taken }, limit };
}
