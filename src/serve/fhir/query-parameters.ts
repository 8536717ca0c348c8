import type { Request } from 'express';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import { badValue, refusal } from './refuse.js';

/** One parameter of a search, name and value decoded. */
export type Pair = readonly [name: string, value: string];

const MAX_PARAMETERS = 100;

/** Control characters, and the mark that decoding leaves where the bytes were no UTF-8. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const UNFIT = /[\u0000-\u001f\u007f\ufffd]/;

/** What a parameter is called in an answer; a name that is none is not repeated. */
export function printableName(name: string): string {
  return /^[A-Za-z_][\w.:-]{0,63}$/.test(name) ? name : '(unreadable name)';
}

/** The parameters of the address and, for a search by POST, those of the form in the body. */
export function readPairs(req: Request): Pair[] {
  const isForm = mediaTypeOf(req) === 'application/x-www-form-urlencoded';
  const { search } = new URL(req.originalUrl, 'http://localhost');
  return parsePairs(search, ...(isForm ? [bodyOf(req).toString('utf8')] : []));
}

/** @throws HttpError 400 for too many parameters, and for text that cannot be meant. */
export function parsePairs(...texts: readonly string[]): Pair[] {
  const pairs = texts.flatMap((text) => [...new URLSearchParams(text)]);
  if (pairs.length > MAX_PARAMETERS) {
    throw refusal(400, 'too-costly', `At most ${MAX_PARAMETERS} parameters are taken.`);
  }
  for (const [name, value] of pairs) {
    if (UNFIT.test(name) || UNFIT.test(value)) {
      throw badValue(printableName(name), 'holds a control character or is not UTF-8');
    }
  }
  return pairs;
}

/** The parameters as they stand in an address. */
export function writePairs(pairs: readonly Pair[]): string {
  return new URLSearchParams(
    pairs.map(([name, value]): [string, string] => [name, value]),
  ).toString();
}
