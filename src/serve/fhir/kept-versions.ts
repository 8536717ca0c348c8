/** Reading one resource, one version of it, and histories: the same for every type whose versions are kept. */
import type { Request } from 'express';
import type { FhirResource } from 'fhir/r4.js';
import type { HistoryPage } from '../../store/observation-history.js';
import type { Pool } from '../../store/pool.js';
import { pathParameter } from '../http/route.js';
import { historyEntry } from './bundle.js';
import { etagOf } from './fhir-handler.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { answerHistory } from './history.js';
import type { Pair } from './query-parameters.js';
import { refusal } from './refuse.js';
import { readVersionId } from './site.js';
import type { FhirSite } from './site.js';

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
  ) => Promise<{ readonly version: Version; readonly first: boolean }[]>;
  readonly factsOf: (version: Version) => {
    readonly id: string;
    readonly version: number;
    readonly stampMs: number;
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
  const { version, stampMs } = kept.factsOf(found);
  return {
    status: 200,
    text: toFhirJson(kept.render(found)),
    version: { etag: etagOf(version), sinceMs: stampMs, replacedSinceMs },
  };
}

/** The newest version of the resource that the path names. */
export async function readNewest<Version>(
  kept: KeptType<Version>,
  { pool }: FhirSite,
  req: Request,
): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const found = kept.isId(id) ? await kept.findNewest(pool, id) : null;
  if (found === null) throw notFound(kept);
  return answerVersion(kept, found.version, found.replacedStampMs);
}

/** The version that the path names. */
export async function readVersion<Version>(
  kept: KeptType<Version>,
  { pool }: FhirSite,
  req: Request,
): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const versionId = readVersionId(pathParameter(req, 'vid'));
  if (!kept.isId(id) || versionId === null) throw notFound(kept);
  const version = await kept.findVersion(pool, id, versionId);
  if (version === null) throw notFound(kept);
  return answerVersion(kept, version, null);
}

/** History of one resource, or of all of the type when the path names none. */
export async function listHistory<Version>(
  kept: KeptType<Version>,
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const id = req.params.id === undefined ? null : pathParameter(req, 'id');
  if (id !== null && (!kept.isId(id) || (await kept.findNewest(site.pool, id)) === null)) {
    throw notFound(kept);
  }
  return answerHistory(site, pairs, req.headers, {
    type: kept.type,
    id,
    isId: kept.isId,
    fetch: (page) => kept.listEvents(site.pool, page),
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
}
