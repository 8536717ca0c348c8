/** Patients: how they are kept and shown, and what a search of them answers. */
import type { Request } from 'express';
import type { Patient } from 'fhir/r4.js';
import {
  countPatients,
  findPatient,
  findPatients,
  findPatientVersion,
  listPatientVersions,
} from '../../store/find-patients.js';
import type { KeptPatient } from '../../store/find-patients.js';
import type { Caller } from '../http/route.js';
import { matchEntry } from './bundle.js';
import type { FhirAnswer } from './fhir-handler.js';
import { includeEntries, leftOut, wanted } from './includes.js';
import type { SearchInclude } from './includes.js';
import type { KeptType } from './kept-versions.js';
import { handlingOf } from './negotiate.js';
import { passedOver } from './passed-over.js';
import { parseSearch } from './parse-search.js';
import type { SearchOffer } from './parse-search.js';
import { PATIENT_PROVENANCE } from './provenance-includes.js';
import type { Pair } from './query-parameters.js';
import { badValue } from './refuse.js';
import { renderPatient } from './render-patient.js';
import { answerPage, asOfOf, issueEntries } from './search.js';
import { PATIENT_PARAMETERS } from './search-parameters.js';
import { shapeResource } from './shape-resource.js';
import { isId } from './site.js';
import type { FhirSite } from './site.js';

/** The resource of a kept version. What is kept was checked to be a Patient when it was registered. */
export function toPatient({ id, version, stampMs, resource }: KeptPatient): Patient {
  return renderPatient({ id, version, stampMs, resource: resource as unknown as Patient });
}

export const PATIENTS: KeptType<KeptPatient> = {
  type: 'Patient',
  isId,
  findNewest: findPatient,
  findVersion: findPatientVersion,
  listEvents: async (pool, page) =>
    (await listPatientVersions(pool, page)).map((version) => ({
      version,
      first: version.version === 1,
    })),
  // No scope for Patients is narrowed.
  visibleOnly: () => [],
  shown: () => ({ type: 'Patient' }),
  factsOf: (kept) => ({ ...kept, patientId: kept.id }),
  render: toPatient,
};

/** What may come along with Patients. */
export const PATIENT_INCLUDES: readonly SearchInclude<KeptPatient>[] = [PATIENT_PROVENANCE];
const PATIENT_OFFER: SearchOffer = { shaped: true, includes: PATIENT_INCLUDES };

export async function searchPatients(
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
  { scopes }: Caller,
): Promise<FhirAnswer> {
  const { pool, baseUrl, siteMs } = site;
  const asOfMs = await asOfOf(pool, pairs);
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const handling = handlingOf(req.headers);
  const search = parseSearch(pairs, PATIENT_PARAMETERS, handling, context, PATIENT_OFFER);
  const includes = wanted(PATIENT_INCLUDES, search.includes);
  if (search.sort !== null && search.sort !== '_id') throw badValue('_sort', 'takes _id here');
  const { conditions } = search;
  return answerPage({
    type: 'searchset',
    path: `${baseUrl}/Patient`,
    search,
    asOfMs,
    isId,
    fetch: (after, limit) =>
      findPatients(pool, { conditions, asOfMs, afterId: after?.id ?? null, limit }),
    count: () => countPatients(pool, { conditions, asOfMs }),
    entryOf: (kept) =>
      matchEntry(`${baseUrl}/Patient/${kept.id}`, shapeResource(toPatient(kept), search.shape)),
    placeOf: ({ id }) => ({ keyMs: 0, id, version: 0 }),
    patientOf: ({ id }) => id,
    includeEntries: (rows) =>
      includeEntries(
        site,
        includes,
        rows,
        rows.map(({ id }) => `Patient/${id}`),
        asOfMs,
        scopes,
      ),
    extraEntries: () =>
      Promise.resolve(
        issueEntries([...leftOut(includes, scopes), ...search.ignored.map(passedOver)]),
      ),
  });
}
