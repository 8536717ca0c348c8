/** Provenance: rendered from what is kept of each version, never kept itself. */
import type { Request } from 'express';
import type { Provenance } from 'fhir/r4.js';
import { countPatientOrigins, findPatientOrigins } from '../../store/patient-origins.js';
import type { PatientOrigin } from '../../store/patient-origins.js';
import type { ProvenanceCondition, ProvenancePage } from '../../store/provenance-search.js';
import { countPanelOrigins, findPanelOrigins } from '../../store/panel-origins.js';
import type { PanelOrigin } from '../../store/panel-origins.js';
import { countReadingOrigins, findReadingOrigins } from '../../store/reading-origins.js';
import type { ReadingOrigin } from '../../store/reading-origins.js';
import { SHOWN, shownBy } from '../../store/shown-observations.js';
import type { Pool } from '../../store/pool.js';
import { pathParameter } from '../http/route.js';
import type { Caller } from '../http/route.js';
import { matchEntry } from './bundle.js';
import { etagOf } from './fhir-handler.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { handlingOf } from './negotiate.js';
import type { PageStart } from './paging.js';
import { parseSearch } from './parse-search.js';
import { PROVENANCE_PARAMETERS } from './provenance-parameters.js';
import { readProvenanceId } from './provenance-id.js';
import type { Pair } from './query-parameters.js';
import { refusal } from './refuse.js';
import { renderPanelProvenance } from './render-panel-provenance.js';
import { renderPatientProvenance } from './render-patient-provenance.js';
import { renderReadingProvenance } from './render-reading-provenance.js';
import { answerPage, ignoredEntries, readDirection } from './search.js';
import { shapeResource } from './shape-resource.js';
import { asksForFirst } from './site.js';
import type { FhirSite } from './site.js';
import { maySee, visibleOnly } from './visibility.js';

/** How a version came to be: of a reading, of a panel, or of a patient. */
type Origin =
  | { readonly type: 'panel'; readonly origin: PanelOrigin }
  | { readonly type: 'Observation'; readonly origin: ReadingOrigin }
  | { readonly type: 'Patient'; readonly origin: PatientOrigin };

function render(one: Origin): Provenance {
  if (one.type === 'panel') return renderPanelProvenance(one.origin);
  return one.type === 'Observation'
    ? renderReadingProvenance(one.origin)
    : renderPatientProvenance(one.origin);
}

function placeOf(one: Origin): Omit<PageStart, 'asOfMs'> {
  if (one.type === 'Patient') {
    const { stampMs: keyMs, id, version } = one.origin;
    return { keyMs, id, version };
  }
  const { stampMs: keyMs, observationId: id, version } = one.origin.version;
  return { keyMs, id, version };
}

/** By time, then by id, then as what it is shown, then by version: as the store orders either kind. */
function compare(a: Origin, b: Origin): number {
  const [left, right] = [placeOf(a), placeOf(b)];
  if (left.keyMs !== right.keyMs) return left.keyMs - right.keyMs;
  const [of, other] = [shownBy(left.id), shownBy(right.id)];
  if (of === null || other === null) throw new Error('a Provenance of something that has no id');
  if (of.rowId !== other.rowId) return of.rowId < other.rowId ? -1 : 1;
  const order = SHOWN.indexOf(of.as) - SHOWN.indexOf(other.as);
  return order === 0 ? left.version - right.version : order;
}

/** Whether a token lets the Provenance of Patients be seen. */
function seesPatients(scopes: readonly string[]): boolean {
  return maySee(scopes, { type: 'Provenance', target: { type: 'Patient' } });
}

/** All kinds of versions in one order, as far as the scopes let their targets be read. */
async function findOrigins(
  pool: Pool,
  page: ProvenancePage,
  scopes: readonly string[],
): Promise<Origin[]> {
  const visible = visibleOnly(scopes, 'r');
  const [readings, panels, patients] = await Promise.all([
    findReadingOrigins(pool, { ...page, visible }),
    findPanelOrigins(pool, { ...page, visible }),
    seesPatients(scopes) ? findPatientOrigins(pool, page) : [],
  ]);
  const all: Origin[] = [
    ...readings.map((origin) => ({ type: 'Observation' as const, origin })),
    ...panels.map((origin) => ({ type: 'panel' as const, origin })),
    ...patients.map((origin) => ({ type: 'Patient' as const, origin })),
  ];
  all.sort((a, b) => (page.descending ? compare(b, a) : compare(a, b)));
  return page.limit === null ? all : all.slice(0, page.limit);
}

async function countOrigins(
  pool: Pool,
  conditions: readonly ProvenanceCondition[],
  scopes: readonly string[],
): Promise<number> {
  const visible = visibleOnly(scopes, 'r');
  const [readings, panels, patients] = await Promise.all([
    countReadingOrigins(pool, { conditions, visible }),
    countPanelOrigins(pool, { conditions, visible }),
    seesPatients(scopes) ? countPatientOrigins(pool, conditions) : 0,
  ]);
  return readings + panels + patients;
}

export async function readProvenance(
  { pool }: FhirSite,
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const target = asksForFirst(req) ? readProvenanceId(pathParameter(req, 'id')) : null;
  const conditions = [{ on: 'target' as const, targets: target === null ? [] : [target] }];
  const page = { conditions, descending: false, after: null, limit: 1 };
  const [found] = target === null ? [] : await findOrigins(pool, page, scopes);
  if (found === undefined) throw refusal(404, 'not-found', 'There is no such Provenance.');
  const { keyMs } = placeOf(found);
  return {
    status: 200,
    text: toFhirJson(render(found)),
    version: { etag: etagOf(1), sinceMs: keyMs, replacedSinceMs: null },
    looked: { patientIds: [patientOf(found)] },
  };
}

function patientOf(one: Origin): string {
  return one.type === 'Patient' ? one.origin.id : one.origin.version.patient.id;
}

/** Provenance never changes, and new ones come at one end: pages stay right without a state of the site. */
export async function searchProvenance(
  { pool, baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const context = { siteMs, baseUrl, nowMs: Date.now() };
  const offer = { shaped: true };
  const handling = handlingOf(req.headers);
  const search = parseSearch(pairs, PROVENANCE_PARAMETERS, handling, context, offer);
  const { conditions, shape } = search;
  const descending = readDirection(search.sort, ['recorded', '_lastUpdated']);
  return answerPage({
    type: 'searchset',
    path: `${baseUrl}/Provenance`,
    search,
    asOfMs: 0,
    isId: (text) => shownBy(text) !== null,
    fetch: (after, limit) => findOrigins(pool, { conditions, descending, after, limit }, scopes),
    count: () => countOrigins(pool, conditions, scopes),
    entryOf: (one) => {
      const resource = render(one);
      return matchEntry(
        `${baseUrl}/Provenance/${resource.id ?? ''}`,
        shapeResource(resource, shape),
      );
    },
    placeOf,
    ...(conditions.some(({ on }) => on === 'target') && { patientOf }),
    extraEntries: () => Promise.resolve(ignoredEntries(search)),
  });
}
