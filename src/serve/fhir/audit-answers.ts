/** AuditEvents: the audit trail as a record or a watcher reads it. */
import type { Request } from 'express';
import { countAudit, findAudit } from '../../store/find-audit.js';
import type { KeptAudit } from '../../store/find-audit.js';
import { pathParameter } from '../http/route.js';
import { AUDIT_PARAMETERS } from './audit-parameters.js';
import { matchEntry } from './bundle.js';
import { etagOf } from './fhir-handler.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { handlingOf } from './negotiate.js';
import { parseSearch } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { refusal } from './refuse.js';
import { renderAuditEvent } from './render-audit-event.js';
import { answerPage, ignoredEntries, readDirection } from './search.js';
import { shapeResource } from './shape-resource.js';
import { asksForFirst, isId } from './site.js';
import type { FhirSite } from './site.js';

function notFound(): Error {
  return refusal(404, 'not-found', 'There is no such AuditEvent.');
}

/** The entry that the path names; its one version, where it names one. */
export async function readAuditEvent({ pool }: FhirSite, req: Request): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  if (!isId(id) || !asksForFirst(req)) throw notFound();
  const conditions = [{ on: 'id' as const, ids: [id] }];
  const [found] = await findAudit(pool, { conditions, descending: false, afterId: null, limit: 1 });
  if (found === undefined) throw notFound();
  return {
    status: 200,
    text: toFhirJson(renderAuditEvent(found)),
    version: { etag: etagOf(1), sinceMs: found.recordedMs, replacedSinceMs: null },
  };
}

/** Newest first unless `_sort` says otherwise. Entries never change; new ones come at one end. */
export async function searchAuditEvents(
  { pool, baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const context = { siteMs, baseUrl, nowMs: Date.now() };
  const offer = { shaped: true };
  const search = parseSearch(pairs, AUDIT_PARAMETERS, handlingOf(req.headers), context, offer);
  const { conditions, shape } = search;
  const descending = readDirection(search.sort, ['date', '_lastUpdated']);
  return answerPage<KeptAudit>({
    type: 'searchset',
    path: `${baseUrl}/AuditEvent`,
    search,
    asOfMs: 0,
    isId,
    fetch: (after, limit) =>
      findAudit(pool, { conditions, descending, afterId: after?.id ?? null, limit }),
    count: () => countAudit(pool, conditions),
    entryOf: (entry) =>
      matchEntry(
        `${baseUrl}/AuditEvent/${entry.id}`,
        shapeResource(renderAuditEvent(entry), shape),
      ),
    placeOf: ({ id, recordedMs }) => ({ keyMs: recordedMs, id, version: 0 }),
    extraEntries: () => Promise.resolve(ignoredEntries(search)),
  });
}
