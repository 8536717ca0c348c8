/** Starting an export: checked, kept, and worked on by whichever process comes first. */
import { randomUUID } from 'node:crypto';
import type { Request } from 'express';
import { insertExport } from '../../store/exports.js';
import type { ExportSelection } from '../../store/exports.js';
import { findPatientKeys, findWardPatients } from '../../store/find-wards.js';
import { readLastStamp } from '../../store/publication-clock.js';
import type { FhirAnswer } from '../fhir/fhir-handler.js';
import { handlingOf, prefersAsync } from '../fhir/negotiate.js';
import { badValue, refusal } from '../fhir/refuse.js';
import { HttpError } from '../http/http-error.js';
import { pathParameter } from '../http/route.js';
import type { Caller } from '../http/route.js';
import type { ExportServices } from './export-services.js';
import { EXPORTABLE } from './export-types.js';
import { scopeMissing, scopesToExport } from './find-owned.js';
import { readExportRequest } from './read-export-request.js';
import type { ExportLevel, ExportRequest } from './read-export-request.js';
import { readExportPairs } from './read-parameters.js';
import { pathOfGroup } from './ward-group.js';

/** From the kick-off until its files are no longer handed out. */
export const KEPT_HOURS = 24;
export const BOUNDS = { runningOfClient: 4, running: 16, keptOfClient: 1000 };
const RETRY_SECONDS = 10;

/**
 * What was committed by now, and nothing later, is what the export shows: every version whose stamp is
 * that of the last commit or an earlier one can be read (stamps rise in the order of commits).
 */
export async function kickOff(
  level: ExportLevel,
  services: ExportServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  if (!prefersAsync(req.headers)) {
    throw refusal(
      400,
      'required',
      'An export is answered later: send Prefer: respond-async.',
      'http.Prefer',
    );
  }
  const { baseUrl, siteMs, readers, pool, clock } = services;
  const asOfMs = await readLastStamp(readers);
  const request = readExportRequest(
    readExportPairs(services.intake, req),
    { level, method: req.method, handling: handlingOf(req.headers) },
    { baseUrl, siteMs, nowMs: asOfMs },
  );
  const patientKeys = await findPatients(level, services, req, request, asOfMs);
  const exportId = randomUUID();
  const nowMs = clock();
  const one = {
    ...{ exportId, asOfMs, clientKey: caller.clientKey, origin: caller.origin },
    request: baseUrl.slice(0, -'/fhir'.length) + req.originalUrl,
    selection: select(level, request, patientKeys, caller),
    requestedMs: nowMs,
    expiresMs: nowMs + KEPT_HOURS * 3_600_000,
  };
  if ((await insertExport(pool, one, BOUNDS)) === 'too-many') throw tooMany();
  services.onStarted();
  const address = `${baseUrl}/exports/${exportId}`;
  return { status: 202, text: null, headers: { 'Content-Location': address } };
}

function tooMany(): HttpError {
  const { runningOfClient, running, keptOfClient } = BOUNDS;
  const detail = `Too many exports: ${runningOfClient} of one client and ${running} in all may be under way, ${keptOfClient} of one client be kept. Delete those that are no longer needed.`;
  return new HttpError({ status: 429, detail, headers: { 'Retry-After': String(RETRY_SECONDS) } });
}

/** @throws HttpError 403 when a type is named that the caller may not read and search. */
function select(
  level: ExportLevel,
  { types, sinceMs, untilMs, filters }: ExportRequest,
  patientKeys: readonly number[] | null,
  caller: Caller,
): ExportSelection {
  const asked = EXPORTABLE.filter(
    ({ type, ofPatients }) =>
      (level === 'system' || ofPatients) && (types === null || types.includes(type)),
  );
  const open = asked.flatMap(({ part, type }) => {
    const scopes = scopesToExport(type, caller.scopes);
    if (scopes !== null) return [{ part, scopes }];
    if (types !== null) throw scopeMissing([`system/${type}.rs`]);
    return [];
  });
  const parts = open.map(({ part }) => part);
  const scopes = [...new Set(open.flatMap((one) => one.scopes))];
  return { parts, scopes, patientKeys, sinceMs, untilMs, filters };
}

/** Null: no patient is left out. */
async function findPatients(
  level: ExportLevel,
  { readers }: ExportServices,
  req: Request,
  { patientIds }: ExportRequest,
  asOfMs: number,
): Promise<readonly number[] | null> {
  const group = level === 'group' ? pathOfGroup(pathParameter(req, 'id')) : null;
  const members = group === null ? null : await findWardPatients(readers, group, asOfMs);
  if (level === 'group' && members === null) {
    throw refusal(404, 'not-found', 'There is no such Group: its id is the path of a ward.');
  }
  if (patientIds === null) return members;
  const found = await findPatientKeys(readers, patientIds, asOfMs);
  const keys = patientIds.map((id) => {
    const key = found.get(id);
    if (key === undefined || members?.includes(key) === false) {
      throw badValue('patient', 'names somebody who is not known here, or not in the Group');
    }
    return key;
  });
  return [...new Set(keys)];
}
