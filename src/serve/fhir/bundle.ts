import { randomUUID } from 'node:crypto';
import { toFhirJson } from './fhir-json.js';
import { renderOutcome } from './render-outcome.js';
import type { OutcomeIssue } from './render-outcome.js';
import type { PageLinks } from './paging.js';

/** The parts of a bundle that a search or a history answers with; entries are finished JSON. */
export interface BundleParts {
  readonly type: 'searchset' | 'history' | 'batch-response' | 'transaction-response';
  /** Matches only, whatever else stands in the bundle. */
  readonly total?: number;
  readonly links?: PageLinks;
  readonly entries: readonly string[];
}

/** The bundle as text, put together from texts: a page of a thousand is not worth a tree of its own. */
export function bundleText({ type, total, links, entries }: BundleParts): string {
  const link =
    links === undefined
      ? undefined
      : [
          { relation: 'self', url: links.self },
          ...(links.next === null ? [] : [{ relation: 'next', url: links.next }]),
        ];
  const head = JSON.stringify({ resourceType: 'Bundle', type, total, link });
  // FHIR JSON has no empty arrays (R4 §2.6.2).
  return entries.length === 0 ? head : `${head.slice(0, -1)},"entry":[${entries.join(',')}]}`;
}

/** @param fullUrl absolute address of the resource, without a version (bdl-8) */
export function matchEntry(fullUrl: string, resource: unknown): string {
  return searchEntry(fullUrl, resource, 'match');
}

/** A resource that comes along with the matches. */
export function includeEntry(fullUrl: string, resource: unknown): string {
  return searchEntry(fullUrl, resource, 'include');
}

function searchEntry(fullUrl: string, resource: unknown, mode: 'match' | 'include'): string {
  return `{"fullUrl":${JSON.stringify(fullUrl)},"resource":${toFhirJson(resource)},"search":{"mode":"${mode}"}}`;
}

/** What there is to say about a search beside its matches. */
export function outcomeEntry(issues: readonly [OutcomeIssue, ...OutcomeIssue[]]): string {
  const fullUrl = `urn:uuid:${randomUUID()}`;
  return JSON.stringify({ fullUrl, resource: renderOutcome(issues), search: { mode: 'outcome' } });
}

/** One version in a history. */
export interface HistoryEvent {
  readonly type: 'Observation' | 'Patient';
  readonly id: string;
  readonly etag: string;
  readonly sinceMs: number;
  /** The resource came into being with it. */
  readonly first: boolean;
  /** Absent: the entry tells only which version it is about. */
  readonly resource?: unknown;
}

/** R4 bdl-3 and bdl-4: an entry of a history has a request and a response. */
export function historyEntry(baseUrl: string, event: HistoryEvent): string {
  const { type, id, etag, sinceMs, first } = event;
  const request = first ? { method: 'POST', url: type } : { method: 'PUT', url: `${type}/${id}` };
  const response = {
    status: first ? '201 Created' : '200 OK',
    etag,
    lastModified: new Date(sinceMs).toISOString(),
  };
  const rest = JSON.stringify({ request, response });
  const resource = event.resource === undefined ? '' : `"resource":${toFhirJson(event.resource)},`;
  return `{"fullUrl":${JSON.stringify(`${baseUrl}/${type}/${id}`)},${resource}${rest.slice(1)}`;
}
