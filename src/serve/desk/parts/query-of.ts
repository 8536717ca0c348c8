import type { Request } from 'express';
import { HttpError } from '../../http/http-error.js';

/** The parameters of an address, the first of each name. */
export function queryOf({ query }: Request): URLSearchParams {
  const first = (value: unknown): unknown => (Array.isArray(value) ? value[0] : value);
  const pairs = Object.entries(query).map(([name, value]) => [name, first(value)] as const);
  return new URLSearchParams(
    pairs.filter((pair): pair is readonly [string, string] => typeof pair[1] === 'string') as [
      string,
      string,
    ][],
  );
}

/** @throws HttpError 400 when an address names a patient: it would be written down on the way */
export function noPatientIn({ query }: Request): void {
  if (!('patient' in query)) return;
  const detail =
    'A patient is never named in an address, which is written down on the way. Use the form of the page.';
  throw new HttpError({ status: 400, detail });
}
