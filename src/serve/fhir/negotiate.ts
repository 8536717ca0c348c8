import type { IncomingHttpHeaders } from 'node:http';
import type { Handling } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';

/**
 * Names of FHIR JSON (R4 §3.1.0.1.11). With a space too: that is what an unescaped plus sign of
 * `_format=application/fhir+json` arrives as.
 */
const JSON_FORMATS = ['json', 'application/json', 'application/fhir+json', 'application/fhir json'];
const JSON_TYPES = ['application/fhir+json', 'application/json', 'application/*', '*/*'];
const FHIR_VERSION = '4.0';

/** The form in which the client wants its answer. */
export interface AnswerForm {
  readonly pretty: boolean;
}

interface MediaRange {
  readonly type: string;
  readonly parameters: ReadonlyMap<string, string>;
}

function readMediaRange(text: string): MediaRange {
  const [type = '', ...parameters] = text.split(';').map((part) => part.trim());
  const pairs = parameters.map((parameter): [string, string] => {
    const [name = '', value = ''] = parameter.split('=', 2);
    return [name.trim().toLowerCase(), value.trim().replace(/^"(.*)"$/, '$1')];
  });
  return { type: type.toLowerCase(), parameters: new Map(pairs) };
}

/** R4 §3.1.0.1.12 names versions by publication and revision: 4.0. */
function isOurVersion({ parameters }: MediaRange): boolean {
  return (parameters.get('fhirversion') ?? FHIR_VERSION) === FHIR_VERSION;
}

function isAcceptable(range: MediaRange): boolean {
  const refused = Number(range.parameters.get('q') ?? '1') === 0;
  return JSON_TYPES.includes(range.type) && !refused && isOurVersion(range);
}

function only(pairs: readonly Pair[], name: string): string | undefined {
  const values = pairs.filter((pair) => pair[0] === name);
  if (values.length > 1) throw badValue(name, 'stands more than once');
  return values[0]?.[1];
}

/**
 * Chooses the form of the answer: `_format` stands above Accept (R4 §3.1.0.1.11).
 *
 * @throws HttpError 406 when the client takes no FHIR JSON of release 4.0.
 */
export function negotiate(headers: IncomingHttpHeaders, pairs: readonly Pair[]): AnswerForm {
  const format = only(pairs, '_format');
  const ranges = (format ?? headers.accept ?? '*/*').split(',').map(readMediaRange);
  const acceptable =
    format === undefined
      ? ranges.some(isAcceptable)
      : ranges.every((range) => JSON_FORMATS.includes(range.type) && isOurVersion(range));
  if (!acceptable) {
    const text = 'Answers are FHIR JSON, release 4.0: application/fhir+json.';
    throw refusal(
      406,
      'not-supported',
      text,
      format === undefined ? 'http.Accept' : 'http._format',
    );
  }
  const pretty = only(pairs, '_pretty') ?? 'false';
  if (pretty !== 'true' && pretty !== 'false') throw badValue('_pretty', 'is not true or false');
  return { pretty: pretty === 'true' };
}

/** @throws HttpError 415 when the body states another release of FHIR. */
export function checkContentVersion(headers: IncomingHttpHeaders): void {
  if (isOurVersion(readMediaRange(headers['content-type'] ?? ''))) return;
  throw refusal(415, 'not-supported', 'The body must be FHIR release 4.0.', 'http.Content-Type');
}

/** What a write is answered with. */
const RETURNS = ['minimal', 'representation', 'OperationOutcome'] as const;
export type ReturnPreference = (typeof RETURNS)[number];

/** Preferences (RFC 7240) that FHIR R4 §3.1.0.1.8 and §3.1.1.2 define; others are passed over. */
function preferences({ prefer = '' }: IncomingHttpHeaders): string[][] {
  const list = (Array.isArray(prefer) ? prefer.join(',') : prefer).split(/[,;]/);
  return list.map((part) => part.split('=', 2).map((side) => side.trim()));
}

function preference(headers: IncomingHttpHeaders, name: string): string | undefined {
  const found = preferences(headers).find(([key = '']) => key.toLowerCase() === name);
  return found?.[1]?.replace(/^"(.*)"$/, '$1');
}

/** RFC 7240 §4.1: the answer may come later. */
export function prefersAsync(headers: IncomingHttpHeaders): boolean {
  return preferences(headers).some(([key = '']) => key.toLowerCase() === 'respond-async');
}

export function handlingOf(headers: IncomingHttpHeaders): Handling {
  const handling = preference(headers, 'handling');
  return handling === 'strict' || handling === 'lenient' ? handling : 'default';
}

/** Undefined when nothing was said. */
export function returnOf(headers: IncomingHttpHeaders): ReturnPreference | undefined {
  const wanted = preference(headers, 'return');
  return RETURNS.find((one) => one === wanted);
}
