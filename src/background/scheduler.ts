/**
 * What the gateway does by itself: holds whose deadline has passed go out as preliminary, and sets held
 * for their patient's identity are judged again when the register has changed; what the rules said is
 * added up. Every process runs one;
 * the database sees to it that no reading is taken twice.
 */
import type { Pool } from '../store/pool.js';
import type { Stages } from '../judging.js';
import type { Names } from '../store/names.js';
import { publishOverdueHolds } from '../store/publish-held.js';
import { findSetsToRejudge, rejudgeSet } from '../store/rejudge-identity.js';

const TICK_MS = 2_000;

/** What is gathered in memory and written down now and then. */
export interface Gathered {
  flush(): Promise<void>;
}

export interface SchedulerOptions {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
  readonly gathered: readonly Gathered[];
  readonly onFailure: (error: unknown) => void;
}

export class Scheduler {
  readonly #options: SchedulerOptions;
  #timer: NodeJS.Timeout | undefined;
  #running: Promise<void> | null = null;
  #again = false;

  constructor(options: SchedulerOptions) {
    this.#options = options;
  }

  /** Runs once now, then every two seconds. */
  start(): void {
    this.#timer = setInterval(() => {
      this.kick();
    }, TICK_MS);
    this.kick();
  }

  /** Runs soon: something has happened that may settle a hold. */
  kick(): void {
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

  /** Resolves when the last run has ended; none follows. */
  async stop(): Promise<void> {
    clearInterval(this.#timer);
    this.#again = false;
    await this.#running;
    // What was counted since; without the database it is lost, and nobody decides by it.
    await this.#flush(() => undefined);
  }

  /** One that cannot be written must not keep the others waiting. */
  async #flush(onFailure: (error: unknown) => void): Promise<void> {
    for (const one of this.#options.gathered) await one.flush().catch(onFailure);
  }

  async #run(): Promise<void> {
    const { pool, names, stages, onFailure } = this.#options;
    try {
      for (const submissionId of await findSetsToRejudge(pool)) {
        // One set that cannot be judged again must not keep the others waiting.
        await rejudgeSet(pool, names, stages, submissionId).catch(onFailure);
      }
      while ((await publishOverdueHolds(pool)) > 0);
      await this.#flush(onFailure);
    } catch (error) {
      onFailure(error);
    }
  }
}
