import type { IncomingHttpHeaders } from 'node:http';
import type { Request, Response } from 'express';
import { noteLook } from '../http/audit-requests.js';
import type { Looked } from '../http/locals.js';
import { negotiate } from './negotiate.js';
import { indentJson } from './indent-json.js';
import { readPairs } from './query-parameters.js';
import type { Pair } from './query-parameters.js';

/** What a FHIR route answers. */
export interface FhirAnswer {
  readonly status: number;
  /** The JSON text of the resource; null: no body. */
  readonly text: string | null;
  /** The version that is shown. */
  readonly version?: ShownVersion;
  readonly headers?: Readonly<Record<string, string>>;
  /** For the audit trail: what was shown. */
  readonly looked?: Looked;
}

export interface ShownVersion {
  /** Entity tag, e.g. `W/"3"`. */
  readonly etag: string;
  /** When it became the newest, in ms since the epoch. */
  readonly sinceMs: number;
  /** When the version before it had become the newest; null: it is the first, or old ones don't change. */
  readonly replacedSinceMs: number | null;
}

/** `Who` holds the caller, on a route that asks for a token. */
type Answering<Who extends readonly unknown[]> = (
  pairs: readonly Pair[],
  req: Request,
  ...who: Who
) => FhirAnswer | Promise<FhirAnswer>;

/** R4 §3.1.0.1.3: the version id as a weak entity tag. */
export function etagOf(version: number): string {
  return `W/"${version}"`;
}

/** A handler for a route list: chooses the form, answers, and spares the body where nothing changed. */
export function fhirHandler<Who extends readonly unknown[]>(
  answer: Answering<Who>,
): (req: Request, res: Response, ...who: Who) => Promise<void> {
  return async (req, res, ...who) => {
    const pairs = readPairs(req);
    if (pairs.length > 0) noteLook(res, { query: pairs });
    const { pretty } = negotiate(req.headers, pairs);
    const { status, text, version, headers = {}, looked = {} } = await answer(pairs, req, ...who);
    noteLook(res, looked);
    const isRead = req.method === 'GET' || req.method === 'HEAD';
    const unchanged = isRead && version !== undefined && isUnchanged(req.headers, version);
    res.status(unchanged ? 304 : status);
    res.setHeader('Vary', 'Accept');
    for (const [name, value] of Object.entries(headers)) res.setHeader(name, value);
    if (version !== undefined) {
      res.setHeader('ETag', version.etag);
      res.setHeader('Last-Modified', new Date(version.sinceMs).toUTCString());
    }
    if (unchanged || text === null) {
      res.end();
      return;
    }
    const body = Buffer.from(pretty ? indentJson(text) : text);
    res.setHeader('Content-Type', 'application/fhir+json; charset=utf-8');
    res.setHeader('Content-Length', body.length);
    res.end(body);
  };
}

/** Conditional read (R4 §3.1.0.2.1; RFC 9110 §13.2.2: the tag decides when there is one). */
function isUnchanged(headers: IncomingHttpHeaders, version: ShownVersion): boolean {
  const tags = headers['if-none-match'];
  if (tags !== undefined) {
    const weak = (tag: string): string => tag.trim().replace(/^W\//, '');
    return tags.trim() === '*' || tags.split(',').map(weak).includes(weak(version.etag));
  }
  const knownMs = Date.parse(headers['if-modified-since'] ?? '');
  if (Number.isNaN(knownMs)) return false;
  // HTTP dates are whole seconds: two versions of one second cannot be told apart, so show the newer.
  const second = (ms: number): number => Math.floor(ms / 1000);
  const { sinceMs, replacedSinceMs } = version;
  const sameSecond = replacedSinceMs !== null && second(replacedSinceMs) === second(sinceMs);
  return sameSecond ? second(sinceMs) < second(knownMs) : second(sinceMs) <= second(knownMs);
}
