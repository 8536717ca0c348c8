/** What is answered about Observations: one, one version, its history, all changes, a search. */
import type { Request } from 'express';
import {
  findObservation,
  findObservationVersion,
  listObservationEvents,
} from '../../store/observation-history.js';
import type { ObservationEvent } from '../../store/observation-history.js';
import {
  countHeldReadings,
  countObservations,
  findObservations,
} from '../../store/search-observations.js';
import type { ObservationCondition, ObservationSort } from '../../store/search-observations.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import { pathParameter } from '../http/route.js';
import { historyEntry, matchEntry, outcomeEntry } from './bundle.js';
import { etagOf } from './fhir-handler.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { answerHistory } from './history.js';
import { handlingOf } from './negotiate.js';
import { parseSearch } from './parse-search.js';
import type { ParsedSearch } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';
import { renderObservation } from './render-observation.js';
import type { OutcomeIssue } from './render-outcome.js';
import { answerPage, asOfOf } from './search.js';
import { OBSERVATION_PARAMETERS } from './search-parameters.js';
import { isId, readVersionId } from './site.js';
import type { FhirSite } from './site.js';

/** What `_sort` may name, and what it sorts by. */
export const OBSERVATION_SORTS: Readonly<Record<string, ObservationSort['by']>> = {
  date: 'taken',
  _lastUpdated: 'stamp',
  _id: 'id',
};

/** A reading that is held and unpublished is no Observation: to a reader it does not exist. */
function notFound(): Error {
  return refusal(404, 'not-found', 'There is no such Observation.');
}

export async function readObservation({ pool }: FhirSite, req: Request): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const found = isId(id) ? await findObservation(pool, id) : null;
  if (found === null) throw notFound();
  return answerVersion(found.version, found.replacedStampMs);
}

export async function readObservationVersion(
  { pool }: FhirSite,
  req: Request,
): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const versionId = readVersionId(pathParameter(req, 'vid'));
  if (!isId(id) || versionId === null) throw notFound();
  const version = await findObservationVersion(pool, id, versionId);
  if (version === null) throw notFound();
  return answerVersion(version, null);
}

function answerVersion(version: ReadingVersion, replacedSinceMs: number | null): FhirAnswer {
  return {
    status: 200,
    text: toFhirJson(renderObservation(version)),
    version: { etag: etagOf(version.version), sinceMs: version.stampMs, replacedSinceMs },
  };
}

/** History of one Observation, or of all when the path names none. */
export async function listHistory(
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const id = req.params.id === undefined ? null : pathParameter(req, 'id');
  if (id !== null && (!isId(id) || (await findObservation(site.pool, id)) === null)) {
    throw notFound();
  }
  return answerHistory(site, pairs, req.headers, {
    type: 'Observation',
    id,
    fetch: (page) => listObservationEvents(site.pool, page),
    entryOf: ({ version, first }: ObservationEvent) =>
      historyEntry(site.baseUrl, {
        type: 'Observation',
        id: version.readingId,
        etag: etagOf(version.version),
        sinceMs: version.stampMs,
        first,
        resource: renderObservation(version),
      }),
    placeOf: ({ version }) => ({
      keyMs: version.stampMs,
      id: version.readingId,
      version: version.version,
    }),
  });
}

export async function searchObservations(
  { pool, baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const asOfMs = await asOfOf(pool, pairs);
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const handling = handlingOf(req.headers);
  const search = parseSearch(pairs, OBSERVATION_PARAMETERS, handling, context);
  const { conditions } = search;
  const sort = readSort(search);
  return answerPage({
    type: 'searchset',
    path: `${baseUrl}/Observation`,
    search,
    asOfMs,
    fetch: (after, limit) => findObservations(pool, { conditions, asOfMs, sort, after, limit }),
    count: () => countObservations(pool, { conditions, asOfMs }),
    entryOf: (version) =>
      matchEntry(`${baseUrl}/Observation/${version.readingId}`, renderObservation(version)),
    placeOf: (version) => ({ keyMs: sortKeyMs(version, sort), id: version.readingId, version: 0 }),
    extraEntries: async () => [
      outcomeEntry([
        suppressed(await countHeldReadings(pool, conditions)),
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
  const by = OBSERVATION_SORTS[descending ? sort.slice(1) : sort];
  if (by === undefined) {
    throw badValue(
      '_sort',
      `takes one of ${Object.keys(OBSERVATION_SORTS).join(', ')}, or - and one`,
    );
  }
  return { by, descending };
}

function sortKeyMs(version: ReadingVersion, { by }: ObservationSort): number {
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

/** What a lenient search left out. */
export function passedOver(parameter: string): OutcomeIssue {
  return {
    severity: 'warning',
    code: 'not-supported',
    text: `${parameter} is not offered here and was passed over.`,
    expression: `http.${parameter}`,
  };
}
