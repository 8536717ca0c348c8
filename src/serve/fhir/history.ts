import type { IncomingHttpHeaders } from 'node:http';
import type { HistoryPage } from '../../store/observation-history.js';
import type { FhirAnswer } from './fhir-handler.js';
import { handlingOf } from './negotiate.js';
import type { PageStart } from './paging.js';
import { parseSearch } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { refusal } from './refuse.js';
import { answerPage } from './search.js';
import { HISTORY_PARAMETERS } from './search-parameters.js';
import type { FhirSite } from './site.js';

/** The versions of one resource, or of all of a type. */
export interface HistorySource<Row> {
  readonly type: 'Observation' | 'Patient';
  /** Null: the history of the type. */
  readonly id: string | null;
  readonly isId: (text: string) => boolean;
  readonly fetch: (page: HistoryPage) => Promise<Row[]>;
  readonly entryOf: (row: Row) => string;
  readonly placeOf: (row: Row) => Omit<PageStart, 'asOfMs'>;
}

/**
 * A page of a history, newest first (R4 §3.1.0.12). Versions never change, and new ones come before
 * all others: nothing is missed or met twice while pages are turned.
 */
export async function answerHistory<Row>(
  { baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  headers: IncomingHttpHeaders,
  { type, id, isId, fetch, entryOf, placeOf }: HistorySource<Row>,
): Promise<FhirAnswer> {
  // There is no `ap` in a history, and hence no now.
  const context = { siteMs, baseUrl, nowMs: 0 };
  const search = parseSearch(pairs, HISTORY_PARAMETERS, handlingOf(headers), context);
  if (search.countOnly || search.sort !== null || search.total) {
    const text = 'A history is given newest first, in pages, without a total.';
    throw refusal(400, 'not-supported', text);
  }
  const sinceMs = search.conditions.length === 0 ? null : Math.max(...search.conditions);
  return answerPage({
    type: 'history',
    path: `${baseUrl}/${type}${id === null ? '' : `/${id}`}/_history`,
    search,
    asOfMs: 0,
    isId,
    fetch: (after, limit) => fetch({ id, sinceMs, after, limit }),
    entryOf,
    placeOf,
  });
}
