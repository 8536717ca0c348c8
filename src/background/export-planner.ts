/**
 * The work on exports: finding the ranges of keys that become the files, and how many resources each has.
 * Every process does it, one export at a time, under a lease: when a process is killed, another one goes
 * on after the last range that was written down.
 */
import { randomUUID } from 'node:crypto';
import { exportableOf } from '../serve/exports/export-types.js';
import type { ExportSite, ExportWalk } from '../serve/exports/export-types.js';
import { isDatabaseAway } from '../store/database-away.js';
import {
  claimExport,
  deleteExpiredExports,
  noteProgress,
  releaseExport,
} from '../store/export-leases.js';
import type { ExportProgress, Lease } from '../store/export-leases.js';
import { listExportFiles } from '../store/exports.js';
import type { ExportFile, ExportRecord } from '../store/exports.js';
import type { Pool } from '../store/pool.js';

const TICK_MS = 2_000;
const LEASE_MS = 30_000;
const ATTEMPTS = 3;

/** How large the pieces are. */
export interface ExportSizes {
  /** Rows that one statement looks at: a fraction of a second. */
  readonly windowRows: number;
  /** From here on a file is long enough. */
  readonly fileResources: number;
  /** However few resources are in them, no more windows than that are one file. */
  readonly fileWindows: number;
}

const SIZES: ExportSizes = { windowRows: 20_000, fileResources: 100_000, fileWindows: 50 };

export interface ExportPlannerOptions {
  readonly pool: Pool;
  readonly site: ExportSite;
  readonly clock: () => number;
  readonly onFailure: (error: unknown) => void;
  readonly sizes?: ExportSizes;
}

export class ExportPlanner {
  readonly #options: ExportPlannerOptions;
  readonly #holder = randomUUID();
  #timer: NodeJS.Timeout | undefined;
  #running: Promise<void> | null = null;
  #again = false;
  #stopping = false;

  constructor(options: ExportPlannerOptions) {
    this.#options = options;
  }

  /** Looks for work now, then every two seconds. */
  start(): void {
    this.#timer = setInterval(() => {
      this.kick();
    }, TICK_MS);
    this.kick();
  }

  /** Looks for work soon: an export was started. */
  kick(): void {
    if (this.#stopping) return;
    if (this.#running !== null) {
      this.#again = true;
      return;
    }
    this.#running = this.#run().finally(() => {
      this.#running = null;
      if (this.#again) {
        this.#again = false;
        this.kick();
      }
    });
  }

  /** Resolves when nothing is at work any more; what was under way is given back for others. */
  async stop(): Promise<void> {
    this.#stopping = true;
    clearInterval(this.#timer);
    await this.#running;
  }

  #lease(): Lease {
    const nowMs = this.#options.clock();
    return { holder: this.#holder, nowMs, untilMs: nowMs + LEASE_MS };
  }

  async #run(): Promise<void> {
    const { pool, clock, onFailure } = this.#options;
    try {
      await deleteExpiredExports(pool, clock());
      for (;;) {
        const claimed = this.#stopping ? null : await claimExport(pool, this.#lease());
        if (claimed === null || !(await this.#tryWork(claimed))) return;
      }
    } catch (error) {
      onFailure(error);
    }
  }

  /** False: it failed; what else there is can wait for the next tick. */
  async #tryWork(claimed: ExportRecord): Promise<boolean> {
    const { pool, onFailure } = this.#options;
    try {
      await this.#work(claimed);
      return true;
    } catch (error) {
      onFailure(error);
      const failure = isDatabaseAway(error) ? null : { attempts: ATTEMPTS };
      await releaseExport(pool, claimed.exportId, this.#holder, failure);
      return false;
    }
  }

  async #work(claimed: ExportRecord): Promise<void> {
    const { pool, site } = this.#options;
    const { exportId, selection } = claimed;
    const files = await listExportFiles(pool, exportId);
    let last = files.at(-1);
    for (const part of partsLeft(selection.parts, last)) {
      const walk = exportableOf(part).walk(site, claimed);
      let afterKey = last?.part === part ? last.untilKey : null;
      do {
        const place = { part, afterKey, number: (last?.number ?? 0) + 1 };
        const file = await this.#nextFile(exportId, walk, place);
        if (file === null || !(await this.#note(exportId, { kind: 'file', file }))) return;
        last = file;
        afterKey = file.untilKey;
      } while (afterKey !== null);
    }
    await this.#note(exportId, { kind: 'done' });
  }

  /** The next range that is large enough, or the rest. Null: the export is gone, or the process is to stop. */
  async #nextFile(
    exportId: string,
    walk: ExportWalk,
    place: Pick<ExportFile, 'part' | 'afterKey' | 'number'>,
  ): Promise<ExportFile | null> {
    const { windowRows, fileResources, fileWindows } = this.#options.sizes ?? SIZES;
    let resources = 0;
    let untilKey = place.afterKey;
    for (let windows = 0; windows < fileWindows && resources < fileResources; windows += 1) {
      if (this.#stopping) {
        await releaseExport(this.#options.pool, exportId, this.#holder, null);
        return null;
      }
      if (windows > 0 && !(await this.#note(exportId, { kind: 'at-work' }))) return null;
      const window = await walk.count({ afterKey: untilKey, untilKey: null }, windowRows);
      resources += window.resources;
      untilKey = window.endKey;
      if (untilKey === null) break;
    }
    return { ...place, untilKey, resources };
  }

  #note(exportId: string, progress: ExportProgress): Promise<boolean> {
    return noteProgress(this.#options.pool, exportId, this.#lease(), progress);
  }
}

/** What is still to be worked on: the part of the last file too, if that did not reach its end. */
function partsLeft(parts: readonly string[], last: ExportFile | undefined): readonly string[] {
  if (last === undefined) return parts;
  const at = parts.indexOf(last.part);
  return parts.slice(last.untilKey === null ? at + 1 : at);
}
