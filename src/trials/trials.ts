/**
 * Trials: a changed configuration tried on sets that were received. Each set is judged twice in memory,
 * by the edition that judged it and by the changed one, from the same facts, so that only the change of
 * configuration shows. Nothing is written but the trial's own row. A process runs one trial at a time, in
 * slices between which it goes on answering; it holds two pages of sets at most.
 */
import { setImmediate as breathe } from 'node:timers/promises';
import type { Stages } from '../judging.js';
import type { Edition } from '../store/edition-shelf.js';
import type { Actor } from '../store/editions.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import { readingId } from '../store/reading-rows.js';
import { countTrialSets, readTrialPage } from '../store/trial-sets.js';
import type { TrialPage, TrialReader } from '../store/trial-sets.js';
import { endTrial, insertTrial, reportProgress, requestCancel } from '../store/trials.js';
import type { TrialRequest } from '../store/trials.js';
import { uuid7 } from '../store/uuid7.js';
import { TrialTally } from '../verdict/trial-tally.js';
import { limitsOf } from '../vitals/site-rules.js';

/** Few enough that parsing a page delays nobody for long, enough that queries cost little a set. */
const PAGE = 64;
/** After so long at work the process looks at what else there is. */
const SLICE_MS = 3;
const REPORT_EVERY_MS = 500;

export interface TrialsOptions {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
  readonly onFailure: (error: unknown) => void;
}

interface Running {
  readonly trialId: string;
  readonly ended: Promise<void>;
  cancelled: boolean;
}

export class Trials {
  readonly #options: TrialsOptions;
  #running: Running | null = null;
  #starting = false;
  #stopping = false;

  constructor(options: TrialsOptions) {
    this.#options = options;
  }

  /** Begins a trial; resolves with its id once it is kept. Null: this process is at work on another. */
  async start(by: Actor, request: TrialRequest): Promise<string | null> {
    if (this.#running !== null || this.#starting || this.#stopping) return null;
    this.#starting = true;
    try {
      const trialId = uuid7();
      await insertTrial(this.#options.pool, by, trialId, request);
      const ended = this.#run(trialId, request).finally(() => {
        this.#running = null;
      });
      this.#running = { trialId, ended, cancelled: false };
      return trialId;
    } finally {
      this.#starting = false;
    }
  }

  /** Asks the process that runs it to stop. False: no such trial is running. */
  async cancel(by: Actor, trialId: string): Promise<boolean> {
    const asked = await requestCancel(this.#options.pool, by, trialId);
    // Here it need not be read from the database first.
    if (asked && this.#running?.trialId === trialId) this.#running.cancelled = true;
    return asked;
  }

  /** A trial under way is marked as interrupted; resolves when it has ended. */
  async stop(): Promise<void> {
    this.#stopping = true;
    await this.#running?.ended;
  }

  /** Never rejects. */
  async #run(trialId: string, request: TrialRequest): Promise<void> {
    const { pool, onFailure } = this.#options;
    const tally = new TrialTally(request.examples);
    const end = (state: 'done' | 'cancelled' | 'failed' | 'interrupted'): Promise<void> =>
      endTrial(pool, trialId, { state, setsJudged: tally.sets, result: tally.report() });
    try {
      await end(await this.#judgeAll(trialId, request, tally));
    } catch (error) {
      onFailure(error);
      // Without the database the row stays as it is; it counts as interrupted once it is silent.
      await end('failed').catch(onFailure);
    }
  }

  async #judgeAll(
    trialId: string,
    request: TrialRequest,
    tally: TrialTally,
  ): Promise<'done' | 'cancelled' | 'interrupted'> {
    const { pool, names, stages: judging } = this.#options;
    // Number 0 is no edition: what it judges is never kept.
    const changed: Edition = { number: 0, limits: limitsOf(request.configuration) };
    // A range too long to be counted in time can still be judged.
    const setsTotal = await countTrialSets(pool, request).catch(() => null);
    const reader: TrialReader = { pool, names, judging, range: request, changed };
    let reportedMs = 0;
    let upcoming: Promise<TrialPage> | null = readTrialPage(reader, null, PAGE);
    while (upcoming !== null) {
      const page: TrialPage = await upcoming;
      // The next page comes while this one is judged.
      upcoming = page.lastId === null ? null : readTrialPage(reader, page.lastId, PAGE);
      upcoming?.catch(() => undefined);
      await this.#judgePage(page, changed, tally);
      if (this.#stopping) return 'interrupted';
      if (this.#running?.cancelled === true) return 'cancelled';
      if (performance.now() - reportedMs < REPORT_EVERY_MS) continue;
      reportedMs = performance.now();
      const goOn = await reportProgress(pool, trialId, { setsTotal, setsJudged: tally.sets });
      if (!goOn) return 'cancelled';
    }
    await reportProgress(pool, trialId, { setsTotal, setsJudged: tally.sets });
    return 'done';
  }

  async #judgePage(page: TrialPage, changed: Edition, tally: TrialTally): Promise<void> {
    const { stages } = this.#options;
    let sliceMs = performance.now();
    tally.addUnreadable(page.unreadable);
    for (const { submissionId, edition, facts, noted } of page.cases) {
      const place = {
        location: facts.set.location,
        readingId: (index: number) => readingId(submissionId, index),
        noted,
      };
      tally.add(place, stages.judge(facts, edition), stages.judge(facts, changed));
      if (performance.now() - sliceMs < SLICE_MS) continue;
      await breathe();
      sliceMs = performance.now();
    }
  }
}
