/**
 * A file of an export, made while it is fetched: a page is read from the kept versions, rendered and sent,
 * and the next one is read meanwhile. Nothing lies on a disk, any process can hand out any file, and a file
 * that is fetched again has the same bytes.
 */
import { Readable } from 'node:stream';
import type { Writable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { constants, createGzip } from 'node:zlib';
import type { Request, Response } from 'express';
import { recordAudit } from '../../store/audit.js';
import { listExportFiles } from '../../store/exports.js';
import type { ExportFile } from '../../store/exports.js';
import { HttpError } from '../http/http-error.js';
import { pathParameter } from '../http/route.js';
import type { Caller } from '../http/route.js';
import type { ExportServices } from './export-services.js';
import { exportableOf } from './export-types.js';
import type { ExportPage, ExportWalk } from './export-types.js';
import { findOwnExport, noExport } from './find-owned.js';
import type { Gate } from './gate.js';

/** Rows of a page: a few megabytes of them are in memory for each file that is being fetched. */
const PAGE_ROWS = 500;
const RETRY_SECONDS = 5;
/** Files that a process hands out at once. */
export const MAX_FETCHES = 8;

/** Counts the files that are being handed out. */
export class Fetches {
  #open = 0;

  /** @throws HttpError 429 when as many are open as may be. */
  async during(work: () => Promise<void>): Promise<void> {
    if (this.#open >= MAX_FETCHES) {
      const detail = 'As many files are being fetched as can be handed out at once.';
      const headers = { 'Retry-After': String(RETRY_SECONDS) };
      throw new HttpError({ status: 429, detail, headers });
    }
    this.#open += 1;
    try {
      await work();
    } finally {
      this.#open -= 1;
    }
  }
}

export async function sendFile(
  services: ExportServices,
  fetches: Fetches,
  req: Request,
  res: Response,
  caller: Caller,
): Promise<void> {
  const found = await findOwnExport(services, req, caller);
  const files =
    found.state === 'done' ? await listExportFiles(services.readers, found.exportId) : [];
  const number = pathParameter(req, 'number');
  const file = files.find((one) => String(one.number) === number && one.resources > 0);
  if (file === undefined) throw noExport();
  const isRead = req.method === 'GET';
  const walk = exportableOf(file.part).walk(services, found);
  await fetches.during(async () => {
    // The first page before any header: a database that is away is an answer, not half a file.
    const pages = pagesOf(walk, file, services.pages);
    const first = isRead ? await pages.next() : undefined;
    await recordAudit(services.pool, {
      ...{ clientKey: caller.clientKey, origin: caller.origin },
      ...{ action: 'export-file', outcome: 200 },
      entity: `exports/${found.exportId}/files/${number}`,
      detail: { part: file.part, resources: file.resources },
    });
    const coded = req.acceptsEncodings(['gzip', 'identity']) === 'gzip';
    res.setHeader('Content-Type', 'application/fhir+ndjson');
    res.setHeader('Vary', 'Accept-Encoding');
    if (coded) res.setHeader('Content-Encoding', 'gzip');
    if (first === undefined) {
      res.end();
      return;
    }
    await send(first, pages, res, coded);
  });
}

async function send(
  first: IteratorResult<Buffer, void>,
  pages: AsyncGenerator<Buffer, void>,
  res: Writable,
  coded: boolean,
): Promise<void> {
  const source = Readable.from(withFirst(first, pages), { highWaterMark: 1 });
  // Speed counts more than the last tenth of the size.
  if (coded) await pipeline(source, createGzip({ level: constants.Z_BEST_SPEED }), res);
  else await pipeline(source, res);
}

async function* withFirst(
  first: IteratorResult<Buffer, void>,
  rest: AsyncGenerator<Buffer, void>,
): AsyncGenerator<Buffer, void> {
  if (first.done === true) return;
  yield first.value;
  yield* rest;
}

/** The lines of a file, a page at a time; the page after it is being read while one is rendered and sent. */
async function* pagesOf(
  walk: ExportWalk,
  file: ExportFile,
  gate: Gate,
): AsyncGenerator<Buffer, void> {
  const { untilKey } = file;
  const readFrom = (afterKey: string | null): Promise<ExportPage> => {
    const reading = gate(() => walk.read({ afterKey, untilKey }, PAGE_ROWS));
    // It may fail before anybody awaits it; whoever does is told.
    reading.catch(() => undefined);
    return reading;
  };
  let next: Promise<ExportPage> | null = readFrom(file.afterKey);
  while (next !== null) {
    const page: ExportPage = await next;
    next = page.endKey === null ? null : readFrom(page.endKey);
    const lines = await page.renderLines();
    if (lines.length > 0) yield Buffer.from(`${lines.join('\n')}\n`);
  }
}
