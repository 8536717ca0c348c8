/** What is answered about Patients: one, one version, histories, a search. */
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
import { pathParameter } from '../http/route.js';
import { historyEntry, matchEntry, outcomeEntry } from './bundle.js';
import { etagOf } from './fhir-handler.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { answerHistory } from './history.js';
import { handlingOf } from './negotiate.js';
import { passedOver } from './observation-answers.js';
import { parseSearch } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';
import { renderPatient } from './render-patient.js';
import { answerPage, asOfOf } from './search.js';
import { PATIENT_PARAMETERS } from './search-parameters.js';
import { isId, readVersionId } from './site.js';
import type { FhirSite } from './site.js';

function notFound(): Error {
  return refusal(404, 'not-found', 'There is no such Patient.');
}

/** The resource of a kept version. What is kept was checked to be a Patient when it was registered. */
export function toPatient({ id, version, stampMs, resource }: KeptPatient): Patient {
  return renderPatient({ id, version, stampMs, resource: resource as unknown as Patient });
}

export async function readPatient({ pool }: FhirSite, req: Request): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const found = isId(id) ? await findPatient(pool, id) : null;
  if (found === null) throw notFound();
  return answerVersion(found.version, found.replacedStampMs);
}

export async function readPatientVersion({ pool }: FhirSite, req: Request): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const versionId = readVersionId(pathParameter(req, 'vid'));
  if (!isId(id) || versionId === null) throw notFound();
  const version = await findPatientVersion(pool, id, versionId);
  if (version === null) throw notFound();
  return answerVersion(version, null);
}

function answerVersion(version: KeptPatient, replacedSinceMs: number | null): FhirAnswer {
  return {
    status: 200,
    text: toFhirJson(toPatient(version)),
    version: { etag: etagOf(version.version), sinceMs: version.stampMs, replacedSinceMs },
  };
}

/** History of one Patient, or of all when the path names none. */
export async function listPatientHistory(
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const id = req.params.id === undefined ? null : pathParameter(req, 'id');
  if (id !== null && (!isId(id) || (await findPatient(site.pool, id)) === null)) throw notFound();
  return answerHistory(site, pairs, req.headers, {
    type: 'Patient',
    id,
    fetch: (page) => listPatientVersions(site.pool, page),
    entryOf: (kept: KeptPatient) =>
      historyEntry(site.baseUrl, {
        type: 'Patient',
        id: kept.id,
        etag: etagOf(kept.version),
        sinceMs: kept.stampMs,
        first: kept.version === 1,
        resource: toPatient(kept),
      }),
    placeOf: ({ id: patientId, version, stampMs }) => ({ keyMs: stampMs, id: patientId, version }),
  });
}

export async function searchPatients(
  { pool, baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const asOfMs = await asOfOf(pool, pairs);
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const search = parseSearch(pairs, PATIENT_PARAMETERS, handlingOf(req.headers), context);
  if (search.sort !== null && search.sort !== '_id') throw badValue('_sort', 'takes _id here');
  const { conditions } = search;
  return answerPage({
    type: 'searchset',
    path: `${baseUrl}/Patient`,
    search,
    asOfMs,
    fetch: (after, limit) =>
      findPatients(pool, { conditions, asOfMs, afterId: after?.id ?? null, limit }),
    count: () => countPatients(pool, { conditions, asOfMs }),
    entryOf: (kept) => matchEntry(`${baseUrl}/Patient/${kept.id}`, toPatient(kept)),
    placeOf: ({ id }) => ({ keyMs: 0, id, version: 0 }),
    extraEntries: () => {
      const [first, ...rest] = search.ignored.map(passedOver);
      return Promise.resolve(first === undefined ? [] : [outcomeEntry([first, ...rest])]);
    },
  });
}
