/** How far an export is, what its files are, and its end (Bulk Data Access, "Status Request" and "Delete Request"). */
import type { Request, Response } from 'express';
import { cancelExport, listExportFiles } from '../../store/exports.js';
import type { ExportFile, ExportRecord } from '../../store/exports.js';
import { isId } from '../fhir/site.js';
import { refusal } from '../fhir/refuse.js';
import { pathParameter } from '../http/route.js';
import type { Caller } from '../http/route.js';
import { sendJson } from '../http/responses.js';
import type { ExportServices } from './export-services.js';
import { exportableOf } from './export-types.js';
import { findOwnExport, noExport } from './find-owned.js';

/** A small export is done within a second; whoever waits for a large one need not ask so often. */
const RETRY_SECONDS = { soon: 1, later: 5 };
const SOON_MS = 10_000;

export async function showStatus(
  services: ExportServices,
  req: Request,
  res: Response,
  caller: Caller,
): Promise<void> {
  const found = await findOwnExport(services, req, caller);
  if (found.state === 'failed') {
    throw refusal(500, 'exception', 'The export failed; its cause is in the log. Start another.');
  }
  const files = await listExportFiles(services.readers, found.exportId);
  if (found.state === 'running') {
    const { soon, later } = RETRY_SECONDS;
    const isYoung = services.clock() - found.requestedMs < SOON_MS;
    res.status(202);
    res.setHeader('X-Progress', progressOf(files));
    res.setHeader('Retry-After', String(isYoung ? soon : later));
    res.end();
    return;
  }
  res.setHeader('Expires', new Date(found.expiresMs).toUTCString());
  sendJson(res, 200, manifestOf(services.baseUrl, found, files));
}

/** At most 100 characters, as the header must be. */
function progressOf(files: readonly ExportFile[]): string {
  const resources = files.reduce((sum, file) => sum + file.resources, 0);
  return resources === 0 ? 'looking through' : `${resources} resources found so far`;
}

function manifestOf(baseUrl: string, found: ExportRecord, files: readonly ExportFile[]): object {
  const { exportId, asOfMs, request } = found;
  return {
    transactionTime: new Date(asOfMs).toISOString(),
    request,
    requiresAccessToken: true,
    output: files
      .filter(({ resources }) => resources > 0)
      .map(({ number, part, resources }) => ({
        type: exportableOf(part).type,
        url: `${baseUrl}/exports/${exportId}/files/${number}`,
        count: resources,
      })),
    // Nothing is ever deleted here: what was withdrawn is there as entered-in-error.
    deleted: [],
    error: [],
  };
}

export async function endExport(
  { pool, clock }: ExportServices,
  req: Request,
  res: Response,
  caller: Caller,
): Promise<void> {
  const id = pathParameter(req, 'id');
  if (!isId(id) || !(await cancelExport(pool, id, caller, clock()))) throw noExport();
  res.status(202).end();
}
