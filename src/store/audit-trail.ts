/**
 * The audit trail of one process: what its transactions wrote is chained shortly after their commit, and
 * looks are gathered in memory and written within a second. Nobody who reads waits for either.
 */
import { randomUUID } from 'node:crypto';
import type { Pool } from 'pg';
import { toRecord } from './audit.js';
import type { AuditEntry } from './audit.js';
import { keepActsOf } from './audit-acts.js';
import type { ActKeeper } from './audit-acts.js';
import type { ChainEnd } from './audit-chaining.js';
import type { AuditRecord, Seal } from './audit-hashes.js';
import { completeLooks } from './audit-looks.js';
import type { Look, WaitingLook } from './audit-looks.js';
import { registerWriter } from './audit-writers.js';
import type { RegisteredWriter } from './audit-writers.js';
import { chainBatch } from './chain-batch.js';
import { closeLostWriter } from './close-lost-writers.js';
import { isDatabaseAway } from './database-away.js';
import type { Names } from './names.js';
import { inTransaction } from './transaction.js';

/** What waits is written so soon: the most that a killed process loses of its looks. */
const WRITE_AFTER_MS = 500;
/** How often a process that has nothing to write says that it lives, seals, and ends the chains of lost ones. */
const SIGN_OF_LIFE_MS = 20_000;
/** After so much silence a process counts as killed. */
const LOST_AFTER_MS = 90_000;
/** Looks that may wait; more are counted, and the count becomes an entry. */
const MOST_WAITING = 20_000;
const MOST_AT_A_TIME = 2_000;
/** After a failure. */
const AGAIN_AFTER_MS = 2_000;

export interface AuditTrailOptions {
  readonly pool: Pool;
  readonly names: Names;
  /** The program, e.g. `gateway`: for the entries of its start and its end. */
  readonly program: string;
  readonly onFailure: (error: unknown) => void;
  readonly onSeal?: (seal: Seal) => void;
  readonly onLost?: () => void;
}

export class AuditTrail implements ActKeeper {
  readonly #options: AuditTrailOptions;
  readonly #id = randomUUID();
  readonly #looks: WaitingLook[] = [];
  readonly #acts: AuditRecord[] = [];
  /** Looks that are not on record because too many waited. */
  #lost = 0;
  /** A commit broke: entries of this process may be on disk that are not among the acts. */
  #inDoubt = false;
  #writer: RegisteredWriter | null = null;
  #registering: Promise<RegisteredWriter> | undefined;
  /** Null: to be read from the database. */
  #end: ChainEnd | null = null;
  #atATime = MOST_AT_A_TIME;
  #soon: NodeJS.Timeout | undefined;
  #life: NodeJS.Timeout | undefined;
  #stopped = false;
  /** One batch after the other. */
  #batches: Promise<void> = Promise.resolve();

  constructor(options: AuditTrailOptions) {
    this.#options = options;
    this.attach(options.pool);
  }

  get writerKey(): number | null {
    return this.#writer?.key ?? null;
  }

  /** Chains what transactions of this pool write, too. */
  attach(pool: Pool): void {
    keepActsOf(pool, this);
  }

  async register(): Promise<RegisteredWriter> {
    this.#registering ??= registerWriter(this.#options.pool, this.#id);
    try {
      this.#writer = await this.#registering;
      return this.#writer;
    } catch (error) {
      this.#registering = undefined;
      throw error;
    }
  }

  /** Takes a look down; it is on disk within a second. */
  record(look: Look): void {
    const { person = null, patientIds = [], query, ...entry } = look;
    for (const patientId of patientIds.length === 0 ? [null] : patientIds) {
      if (this.#looks.length < MOST_WAITING) {
        this.#looks.push({ record: toRecord(entry, null), person, patientId, query });
      } else {
        this.#lost += 1;
        this.#options.onLost?.();
      }
    }
    this.#writeSoon();
  }

  committed(records: readonly AuditRecord[]): void {
    // The entries themselves are safe: what is too much here is found again in the database.
    if (this.#acts.length + records.length > MOST_WAITING) this.#inDoubt = true;
    else this.#acts.push(...records);
    this.#writeSoon();
  }

  doubted(): void {
    this.#inDoubt = true;
    this.#writeSoon();
  }

  /** From now on it says that it lives, and looks after the chains of processes that are lost. */
  start(): void {
    this.record(this.#ownEntry('process-started'));
    this.#life = setInterval(() => {
      this.#write(false)
        .then(() => this.closeLost())
        .catch(this.#options.onFailure);
    }, SIGN_OF_LIFE_MS).unref();
  }

  /** Writes and chains all that waits. @throws when the database is away: it waits on. */
  async flush(): Promise<void> {
    do await this.#write(false);
    while (this.#looks.length > 0 || this.#acts.length > 0);
  }

  /** Writes what waits, ends the chain and seals it. Without the database the looks that wait are lost. */
  async stop(): Promise<void> {
    if (this.#life !== undefined) this.record(this.#ownEntry('process-stopped'));
    this.#stopped = true;
    clearInterval(this.#life);
    clearTimeout(this.#soon);
    if (this.#writer === null && this.#looks.length === 0) return;
    try {
      await this.flush();
      await this.#write(true);
    } catch (error) {
      this.#options.onFailure(error);
    }
  }

  /** Ends the chains of processes that have been silent for longer than `lostAfterMs`. */
  async closeLost(lostAfterMs = LOST_AFTER_MS): Promise<void> {
    const { pool, onSeal } = this.#options;
    const { key } = await this.register();
    for (;;) {
      const seals = await closeLostWriter(pool, key, lostAfterMs);
      if (seals === null) return;
      for (const seal of seals) onSeal?.(seal);
    }
  }

  #ownEntry(action: string): AuditEntry {
    const detail = { program: this.#options.program };
    return { clientKey: null, action, outcome: 200, entity: `processes/${this.#id}`, detail };
  }

  #writeSoon(afterMs = WRITE_AFTER_MS): void {
    if (this.#stopped) return;
    this.#soon ??= setTimeout(() => {
      this.#soon = undefined;
      this.flush().catch((error: unknown) => {
        this.#options.onFailure(error);
        this.#writeSoon(AGAIN_AFTER_MS);
      });
    }, afterMs).unref();
  }

  #write(last: boolean): Promise<void> {
    const batch = this.#batches.then(() => this.#writeBatch(last));
    this.#batches = batch.catch(() => undefined);
    return batch;
  }

  async #writeBatch(last: boolean): Promise<void> {
    const { pool, names, onSeal } = this.#options;
    const looks = this.#looks.slice(0, this.#atATime);
    const acts = this.#acts.slice(0, this.#atATime);
    const inDoubt = this.#inDoubt && acts.length === this.#acts.length;
    const lost = this.#lost;
    try {
      const writer = await this.register();
      const records = await completeLooks(pool, names, writer, looks);
      if (lost > 0) records.push(toRecord(lostEntry(lost), writer.key));
      const { end, seal } = await inTransaction(pool, (client) =>
        chainBatch(client, writer, this.#end, { acts, looks: records, inDoubt, last }),
      );
      this.#end = end;
      if (seal !== null) onSeal?.(seal);
    } catch (error) {
      this.#end = null;
      this.#setAside(error);
      throw error;
    }
    this.#looks.splice(0, looks.length);
    this.#acts.splice(0, acts.length);
    this.#lost -= lost;
    if (inDoubt) this.#inDoubt = false;
    this.#atATime = MOST_AT_A_TIME;
  }

  /** An entry that the database does not take, also by itself, must not hold up the others for ever. */
  #setAside(error: unknown): void {
    if (isDatabaseAway(error)) return;
    if (this.#atATime > 1) {
      this.#atATime = 1;
      return;
    }
    if (this.#looks.shift() !== undefined) this.#lost += 1;
    if (this.#acts.shift() !== undefined) this.#inDoubt = true;
  }
}

function lostEntry(entries: number): AuditEntry {
  return { clientKey: null, action: 'looks-lost', outcome: 500, detail: { entries } };
}
