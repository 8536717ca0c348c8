/** Observations: how they are kept and shown, and what a search of them answers. */
import type { Request } from 'express';
import {
  findObservation,
  findObservationVersion,
  listObservationEvents,
} from '../../store/observation-history.js';
import {
  countHeldReadings,
  countObservations,
  findObservations,
} from '../../store/search-observations.js';
import type { ObservationCondition } from '../../store/observation-conditions.js';
import type { ObservationSort } from '../../store/search-observations.js';
import { shownBy } from '../../store/shown-observations.js';
import type { ObservationVersion } from '../../store/shown-observations.js';
import type { Caller } from '../http/route.js';
import { matchEntry, outcomeEntry } from './bundle.js';
import type { FhirAnswer } from './fhir-handler.js';
import type { KeptType } from './kept-versions.js';
import { handlingOf } from './negotiate.js';
import { parseSearch } from './parse-search.js';
import type { ParsedSearch } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { badValue } from './refuse.js';
import { renderShown } from './render-derived.js';
import type { OutcomeIssue } from './render-outcome.js';
import { answerPage, momentOf } from './search.js';
import { OBSERVATION_PARAMETERS } from './search-parameters.js';
import type { FhirSite } from './site.js';
import { visibleOnly } from './visibility.js';

/** What `_sort` may name, and what it sorts by. */
const OBSERVATION_SORTS: ReadonlyMap<string, ObservationSort['by']> = new Map([
  ['date', 'taken'],
  ['_lastUpdated', 'stamp'],
  ['_id', 'id'],
]);

/** A reading that is held and unpublished is no Observation: to a reader it does not exist. */
export const OBSERVATIONS: KeptType<ObservationVersion> = {
  type: 'Observation',
  isId: (text) => shownBy(text) !== null,
  findNewest: findObservation,
  findVersion: findObservationVersion,
  listEvents: listObservationEvents,
  factsOf: ({ observationId: id, version, stampMs }) => ({ id, version, stampMs }),
  visibleOnly,
  shown: (version) => ({ type: 'Observation', version }),
  render: renderShown,
};

export async function searchObservations(
  { pool, baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const { asOfMs, shown } = await momentOf(pool, pairs);
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const handling = handlingOf(req.headers);
  const search = parseSearch(pairs, OBSERVATION_PARAMETERS, handling, context);
  const narrowing = visibleOnly(scopes, 's');
  const conditions = [...search.conditions, ...narrowing];
  const sort = readSort(search);
  return answerPage({
    type: 'searchset',
    path: `${baseUrl}/Observation`,
    search,
    asOfMs,
    isId: OBSERVATIONS.isId,
    fetch: (after, limit) =>
      findObservations(pool, { conditions, asOfMs, shown, sort, after, limit }),
    count: () => countObservations(pool, { conditions, asOfMs, shown }),
    entryOf: (version) =>
      matchEntry(`${baseUrl}/Observation/${version.observationId}`, renderShown(version)),
    placeOf: (version) => ({
      keyMs: sortKeyMs(version, sort),
      id: version.observationId,
      version: 0,
    }),
    extraEntries: async () => [
      outcomeEntry([
        suppressed(await countHeldReadings(pool, { conditions, asOfMs })),
        ...(narrowing.length === 0 ? [] : [NARROWED]),
        ...search.ignored.map(passedOver),
      ]),
    ],
  });
}

/**
 * Without `_sort`: the newest measurements first where patients are named, as a chart shows them;
 * else in order of publication, as a feed is read.
 */
function readSort({ sort, conditions }: ParsedSearch<ObservationCondition>): ObservationSort {
  if (sort === null) {
    return conditions.some(({ on }) => on === 'patient')
      ? { by: 'taken', descending: true }
      : { by: 'stamp', descending: false };
  }
  const descending = sort.startsWith('-');
  const by = OBSERVATION_SORTS.get(descending ? sort.slice(1) : sort);
  if (by === undefined) {
    const names = [...OBSERVATION_SORTS.keys()].join(', ');
    throw badValue('_sort', `takes one of ${names}, or - and one`);
  }
  return { by, descending };
}

function sortKeyMs(version: ObservationVersion, { by }: ObservationSort): number {
  if (by === 'taken') return version.takenAt.epochMs;
  return by === 'stamp' ? version.stampMs : 0;
}

/** That something is withheld must not be silent: how much, and nothing about it. */
function suppressed(held: number): OutcomeIssue {
  return {
    severity: 'information',
    code: 'suppressed',
    text: `Held for review and not published, of what this search asks for by patient, code, category and date: ${held}`,
    diagnostics: `held=${held}`,
  };
}

/** So that nobody takes a part for the whole. */
const NARROWED: OutcomeIssue = {
  severity: 'information',
  code: 'suppressed',
  text: 'The scopes of this token let only some Observations be seen; the others are left out, and not counted.',
};

/** What a lenient search left out. */
export function passedOver(parameter: string): OutcomeIssue {
  return {
    severity: 'warning',
    code: 'not-supported',
    text: `${parameter} is not offered here and was passed over.`,
    expression: `http.${parameter}`,
  };
}
