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
import type { SortKey } from '../../store/search-observations.js';
import { shownBy } from '../../store/shown-observations.js';
import type { ObservationVersion } from '../../store/shown-observations.js';
import type { Caller } from '../http/route.js';
import { matchEntry, outcomeEntry } from './bundle.js';
import type { FhirAnswer } from './fhir-handler.js';
import type { KeptType } from './kept-versions.js';
import { handlingOf } from './negotiate.js';
import { includeEntries, leftOut, wanted } from './includes.js';
import { OBSERVATION_INCLUDES } from './observation-includes.js';
import { passedOver } from './passed-over.js';
import { parseSearch } from './parse-search.js';
import type { ParsedSearch, SearchOffer } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { badValue } from './refuse.js';
import { renderShown } from './render-derived.js';
import type { OutcomeIssue } from './render-outcome.js';
import { answerPage, momentOf } from './search.js';
import { OBSERVATION_PARAMETERS } from './search-parameters.js';
import { shapeResource } from './shape-resource.js';
import type { Shape } from './shape-resource.js';
import type { FhirSite } from './site.js';
import { visibleOnly } from './visibility.js';

/** What `_sort` may name, and what it sorts by. */
const OBSERVATION_SORTS: ReadonlyMap<string, SortKey['by']> = new Map([
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
  factsOf: ({ observationId: id, version, stampMs, patient }) => ({
    ...{ id, version, stampMs },
    patientId: patient.id,
  }),
  visibleOnly,
  shown: (version) => ({ type: 'Observation', version }),
  render: renderShown,
};

/** What a search of Observations offers beside its parameters. */
export const OBSERVATION_OFFER: SearchOffer = { shaped: true, includes: OBSERVATION_INCLUDES };

export async function searchObservations(
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const { pool, baseUrl, siteMs } = site;
  const { asOfMs, shown } = await momentOf(pool, pairs);
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const handling = handlingOf(req.headers);
  const search = parseSearch(pairs, OBSERVATION_PARAMETERS, handling, context, OBSERVATION_OFFER);
  const narrowing = visibleOnly(scopes, 's');
  const conditions = [...search.conditions, ...narrowing];
  const sort = readSort(search);
  const includes = wanted(OBSERVATION_INCLUDES, search.includes);
  let seen: readonly ObservationVersion[] = [];
  const answer = await answerPage({
    type: 'searchset',
    path: `${baseUrl}/Observation`,
    search,
    asOfMs,
    isId: OBSERVATIONS.isId,
    fetch: (after, limit) =>
      findObservations(pool, {
        ...{ conditions, asOfMs, shown, sort, limit },
        after: after === null ? null : { id: after.id, keysMs: [after.keyMs, after.thenMs ?? 0] },
      }),
    count: () => countObservations(pool, { conditions, asOfMs, shown }),
    entryOf: (version) => observationEntry(baseUrl, version, search.shape),
    placeOf: (version) => placeOf(version, sort),
    includeEntries: (rows) => {
      seen = rows;
      return includeEntries(site, includes, rows, placesIn(rows), asOfMs, scopes);
    },
    extraEntries: async () => [
      outcomeEntry([
        suppressed(await countHeldReadings(pool, { conditions, asOfMs })),
        ...(narrowing.length === 0 ? [] : [NARROWED]),
        ...leftOut(includes, scopes),
        ...search.ignored.map(passedOver),
      ]),
    ],
  });
  return { ...answer, looked: { patientIds: patientsSeen(conditions, seen) } };
}

/**
 * For the audit trail: the patients that a search names, and where it names them by what is known of them,
 * those that it found. One that names none is about all.
 */
export function patientsSeen(
  conditions: readonly ObservationCondition[],
  found: readonly ObservationVersion[],
): string[] {
  const named = conditions.flatMap((one) => (one.on === 'patient' ? one.ids : []));
  const isByName = conditions.some(({ on }) => on === 'patient-named');
  return [...new Set([...named, ...(isByName ? found.map(({ patient }) => patient.id) : [])])];
}

/** A match as an entry. */
export function observationEntry(
  baseUrl: string,
  version: ObservationVersion,
  shape: Shape,
): string {
  const resource = shapeResource(renderShown(version), shape);
  return matchEntry(`${baseUrl}/Observation/${version.observationId}`, resource);
}

/** The addresses of matches, below the base. */
export function placesIn(rows: readonly ObservationVersion[]): string[] {
  return rows.map(({ observationId }) => `Observation/${observationId}`);
}

/**
 * Without `_sort`: the newest measurements first where patients are named, as a chart shows them;
 * else in order of publication, as a feed is read.
 */
function readSort({ sort, conditions }: ParsedSearch<ObservationCondition>): readonly SortKey[] {
  if (sort === null) {
    return conditions.some(({ on }) => on === 'patient' || on === 'patient-named')
      ? [{ by: 'taken', descending: true }]
      : [{ by: 'stamp', descending: false }];
  }
  const keys = sort.split(',').map((word): SortKey => {
    const descending = word.startsWith('-');
    const by = OBSERVATION_SORTS.get(descending ? word.slice(1) : word);
    if (by === undefined) throw notSortable();
    return { by, descending };
  });
  if (new Set(keys.map(({ by }) => by)).size < keys.length) throw notSortable();
  const last = keys.findIndex(({ by }) => by === 'id');
  // Nothing is equal in its id, so that what follows it decides nothing.
  return last === -1 ? keys : keys.slice(0, last + 1);
}

function notSortable(): Error {
  const names = [...OBSERVATION_SORTS.keys()].join(', ');
  return badValue('_sort', `takes ${names}, each once at most, a minus before it for downwards`);
}

function placeOf(
  version: ObservationVersion,
  sort: readonly SortKey[],
): { keyMs: number; thenMs: number; id: string; version: number } {
  const [keyMs = 0, thenMs = 0] = sort.map((key) => sortKeyMs(version, key));
  return { keyMs, thenMs, id: version.observationId, version: 0 };
}

function sortKeyMs(version: ObservationVersion, { by }: SortKey): number {
  if (by === 'taken') return version.takenAt.epochMs;
  return by === 'stamp' ? version.stampMs : 0;
}

/** That something is withheld must not be silent: how much, and nothing about it. */
export function suppressed(held: number): OutcomeIssue {
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
