/** Reading one resource, one version of it, and histories: the same for every type whose versions are kept. */
import type { Request } from 'express';
import type { FhirResource } from 'fhir/r4.js';
import type { HistoryPage } from '../../store/observation-history.js';
import type { Pool } from '../../store/pool.js';
import type { ObservationCondition } from '../../store/observation-conditions.js';
import { pathParameter } from '../http/route.js';
import type { Caller } from '../http/route.js';
import { historyEntry } from './bundle.js';
import { etagOf } from './fhir-handler.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { answerHistory } from './history.js';
import type { Pair } from './query-parameters.js';
import { refusal } from './refuse.js';
import { readVersionId } from './site.js';
import type { FhirSite } from './site.js';
import { maySee } from './visibility.js';
import type { ShownResource } from './visibility.js';

/** A type of resource whose versions are kept: where they are found and how they are shown. */
export interface KeptType<Version> {
  readonly type: 'Observation' | 'Patient';
  /** Whether a text can be an id of it. */
  readonly isId: (text: string) => boolean;
  readonly findNewest: (
    pool: Pool,
    id: string,
  ) => Promise<{ readonly version: Version; readonly replacedStampMs: number | null } | null>;
  readonly findVersion: (pool: Pool, id: string, version: number) => Promise<Version | null>;
  readonly listEvents: (
    pool: Pool,
    page: HistoryPage,
    conditions: readonly ObservationCondition[],
  ) => Promise<{ readonly version: Version; readonly first: boolean }[]>;
  /** What narrows a list to what the scopes let see. */
  readonly visibleOnly: (
    scopes: readonly string[],
    letter: 'r' | 's',
  ) => readonly ObservationCondition[];
  readonly shown: (version: Version) => ShownResource;
  readonly factsOf: (version: Version) => {
    readonly id: string;
    readonly version: number;
    readonly stampMs: number;
    /** Whose it is: for the audit trail. */
    readonly patientId: string;
  };
  readonly render: (version: Version) => FhirResource;
}

function notFound({ type }: Pick<KeptType<unknown>, 'type'>): Error {
  return refusal(404, 'not-found', `There is no such ${type}.`);
}

function answerVersion<Version>(
  kept: KeptType<Version>,
  found: Version,
  replacedSinceMs: number | null,
): FhirAnswer {
  const { version, stampMs, patientId } = kept.factsOf(found);
  return {
    status: 200,
    text: toFhirJson(kept.render(found)),
    version: { etag: etagOf(version), sinceMs: stampMs, replacedSinceMs },
    looked: { patientIds: [patientId], detail: { version } },
  };
}

/** The newest version of the resource that the path names. */
export async function readNewest<Version>(
  kept: KeptType<Version>,
  { pool }: FhirSite,
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const found = kept.isId(id) ? await kept.findNewest(pool, id) : null;
  // What may not be seen is answered as what is not there, so that ids cannot be tried.
  if (found === null || !maySee(scopes, kept.shown(found.version))) throw notFound(kept);
  return answerVersion(kept, found.version, found.replacedStampMs);
}

/** The version that the path names. */
export async function readVersion<Version>(
  kept: KeptType<Version>,
  { pool }: FhirSite,
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const versionId = readVersionId(pathParameter(req, 'vid'));
  if (!kept.isId(id) || versionId === null) throw notFound(kept);
  const version = await kept.findVersion(pool, id, versionId);
  if (version === null || !maySee(scopes, kept.shown(version))) throw notFound(kept);
  return answerVersion(kept, version, null);
}

/** Whose the resource of this id is; null where there is none of which some version may be seen. */
async function patientOf<Version>(
  kept: KeptType<Version>,
  { pool }: FhirSite,
  id: string,
  conditions: readonly ObservationCondition[],
): Promise<string | null> {
  const newest = kept.isId(id) ? await kept.findNewest(pool, id) : null;
  if (newest === null) return null;
  const { patientId } = kept.factsOf(newest.version);
  if (conditions.length === 0) return patientId;
  const first = { id, sinceMs: null, after: null, limit: 1 };
  return (await kept.listEvents(pool, first, conditions)).length > 0 ? patientId : null;
}

/** History of one resource, or of all of the type when the path names none. */
export async function listHistory<Version>(
  kept: KeptType<Version>,
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const id = req.params.id === undefined ? null : pathParameter(req, 'id');
  // SMART: the history of one resource belongs to reading, that of a type to searching.
  const conditions = kept.visibleOnly(scopes, id === null ? 's' : 'r');
  const patientId = id === null ? null : await patientOf(kept, site, id, conditions);
  if (id !== null && patientId === null) throw notFound(kept);
  const answer = await answerHistory(site, pairs, req.headers, {
    type: kept.type,
    id,
    isId: kept.isId,
    fetch: (page) => kept.listEvents(site.pool, page, conditions),
    entryOf: ({ version, first }) => {
      const facts = kept.factsOf(version);
      return historyEntry(site.baseUrl, {
        type: kept.type,
        id: facts.id,
        etag: etagOf(facts.version),
        sinceMs: facts.stampMs,
        first,
        resource: kept.render(version),
      });
    },
    placeOf: ({ version }) => {
      const { id: of, version: number, stampMs } = kept.factsOf(version);
      return { keyMs: stampMs, id: of, version: number };
    },
  });
  return patientId === null ? answer : { ...answer, looked: { patientIds: [patientId] } };
}
