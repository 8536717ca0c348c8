/**
 * Works on subscriptions: every process does, each on some at a time, under a lease. When a process is
 * killed, another goes on with what was not noted as taken.
 */
import { randomUUID } from 'node:crypto';
import type { FetchOutside } from '../outside/fetch-outside.js';
import type { SearchContext } from '../serve/fhir/search-parameter.js';
import type { CountNotification } from '../serve/operations/subscription-metrics.js';
import type { Pool } from '../store/pool.js';
import { isDatabaseAway } from '../store/database-away.js';
import { clearOldEvents } from '../store/subscription-events.js';
import {
  beginRound,
  claimSubscription,
  clearError,
  releaseSubscription,
} from '../store/subscription-work.js';
import type { ClaimedSubscription, WorkLease } from '../store/subscription-work.js';
import { DEFAULT_TIMEOUT_MS } from './send.js';
import { workRound } from './work-round.js';

/** How soon events of other processes are noticed; those of this one are told. */
const TICK_MS = 500;
/** Looks for work in a row are no closer: under load one look serves many commits. */
const PAUSE_MS = 50;
const CLEARING_MS = 60_000;
const PUT_OFF_MS = 60_000;
const OWN_FAILURE =
  'The gateway failed at this Subscription, and tries again; its log has the cause.';
/** A hanging subscriber holds one of these for its time-out, and no more of the process … */
const MOST_AT_WORK = 16;
/** … and those that may hang hold only some of them: the others are for the rest. */
const MOST_DOUBTFUL = 8;
/** Then the next one gets its turn. */
const MOST_ROUNDS = 50;
/** Beyond the time that a notification may take: for the database, and for clocks that differ. */
const LEASE_SLACK_MS = 5_000;
/** What was delivered can be read again by `$events` for so long, and so much of it. */
const KEPT_MS = 7 * 86_400_000;
const KEPT_EVENTS = 100_000;

export interface DelivererOptions extends Pick<SearchContext, 'siteMs' | 'baseUrl'> {
  readonly pool: Pool;
  readonly clock: () => number;
  readonly fetch: FetchOutside;
  readonly countNotification: CountNotification;
  readonly onFailure: (error: unknown) => void;
}

export class Deliverer {
  readonly #options: DelivererOptions;
  readonly #stopping = new AbortController();
  readonly #atWork = new Set<Promise<void>>();
  #doubtful = 0;
  #timer: NodeJS.Timeout | undefined;
  #pause: NodeJS.Timeout | undefined;
  #looking: Promise<void> | null = null;
  #lookAgain = false;
  #clearedMs = 0;

  constructor(options: DelivererOptions) {
    this.#options = options;
  }

  /** Looks for work now, then twice a second. */
  start(): void {
    this.#timer = setInterval(() => {
      this.kick();
    }, TICK_MS);
    this.kick();
  }

  /** Looks for work soon: something was published, or a subscription has changed. */
  kick(): void {
    if (this.#stopping.signal.aborted) return;
    if (this.#looking !== null || this.#pause !== undefined) {
      this.#lookAgain = true;
      return;
    }
    this.#looking = this.#look().finally(() => {
      this.#looking = null;
      this.#pause = setTimeout(() => {
        this.#pause = undefined;
        if (!this.#lookAgain) return;
        this.#lookAgain = false;
        this.kick();
      }, PAUSE_MS);
    });
  }

  /** Resolves when nothing is at work any more; what was being sent is broken off, to be sent again. */
  async stop(): Promise<void> {
    this.#stopping.abort();
    clearInterval(this.#timer);
    await this.#looking;
    clearTimeout(this.#pause);
    await Promise.all(this.#atWork);
  }

  #lease(holder: string): WorkLease {
    const nowMs = this.#options.clock();
    return { holder, nowMs, timeoutMs: DEFAULT_TIMEOUT_MS, slackMs: LEASE_SLACK_MS };
  }

  async #look(): Promise<void> {
    const { pool, onFailure } = this.#options;
    try {
      while (this.#atWork.size < MOST_AT_WORK && !this.#stopping.signal.aborted) {
        const holder = randomUUID();
        const doubtfulToo = this.#doubtful < MOST_DOUBTFUL;
        const claimed = await claimSubscription(pool, this.#lease(holder), doubtfulToo);
        if (claimed === null) break;
        this.#begin(claimed, holder);
      }
      await this.#clear();
    } catch (error) {
      onFailure(error);
    }
  }

  #begin({ subscriptionKey, doubtful }: ClaimedSubscription, holder: string): void {
    const weight = doubtful ? 1 : 0;
    this.#doubtful += weight;
    const working = this.#workOn(subscriptionKey, holder)
      .catch((error: unknown) => this.#putOff(subscriptionKey, holder, error))
      .catch(this.#options.onFailure)
      .finally(() => {
        this.#doubtful -= weight;
        this.#atWork.delete(working);
        this.kick();
      });
    this.#atWork.add(working);
  }

  /** The gateway itself has failed at it: the others go on, and its owner is told. */
  async #putOff(subscriptionKey: number, holder: string, error: unknown): Promise<void> {
    const { pool, clock, onFailure } = this.#options;
    onFailure(error);
    const pause = { dueMs: clock() + PUT_OFF_MS, error: OWN_FAILURE };
    await releaseSubscription(pool, subscriptionKey, holder, isDatabaseAway(error) ? null : pause);
  }

  async #clear(): Promise<void> {
    const { pool, clock } = this.#options;
    const nowMs = clock();
    if (nowMs - this.#clearedMs < CLEARING_MS) return;
    this.#clearedMs = nowMs;
    await clearOldEvents(pool, { beforeMs: nowMs - KEPT_MS, newest: KEPT_EVENTS });
  }

  async #workOn(subscriptionKey: number, holder: string): Promise<void> {
    const { pool } = this.#options;
    const services = { ...this.#options, signal: this.#stopping.signal, random: Math.random };
    for (let rounds = 0; rounds < MOST_ROUNDS && !services.signal.aborted; rounds += 1) {
      const work = await beginRound(pool, subscriptionKey, this.#lease(holder));
      if (work === null) return;
      const end = await workRound(services, work, holder);
      if (work.error === OWN_FAILURE) await clearError(pool, subscriptionKey, holder, OWN_FAILURE);
      if (end === 'off') break;
    }
    await releaseSubscription(pool, subscriptionKey, holder);
  }
}
