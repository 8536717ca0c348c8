/**
 * The editions that this process judges by. An approved edition never changes, so its limits are built
 * once; which one is in force is asked of the database in every transaction that judges, so that no
 * process judges by one that another process has just had followed up.
 */
import type { ClientBase, Pool } from 'pg';
import { Overloaded } from '../errors.js';
import { EDITION } from '../vitals/edition.js';
import type { Limits } from '../vitals/limits.js';
import { limitsOf } from '../vitals/site-rules.js';
import { findEdition, readInForce } from './editions.js';
import type { InForce } from './editions.js';

/** One edition as judging needs it. */
export interface Edition {
  readonly number: number;
  readonly limits: Limits;
}

/** Which edition is in force at a time (ms since the epoch). */
export type EditionAt = (atMs: number) => Edition;

export class EditionShelf {
  readonly #built = new Map<number, Edition>();

  /** Those in force as the caller's transaction sees them: ask inside the transaction that judges. */
  async inForce(client: ClientBase | Pool): Promise<EditionAt> {
    const schedule = await readInForce(client);
    for (const { number } of schedule) await this.numbered(client, number);
    return (atMs) => this.#known(numberAt(schedule, atMs));
  }

  /** The edition that a kept submission names. */
  async numbered(client: ClientBase | Pool, number: number): Promise<Edition> {
    return this.#built.get(number) ?? this.#build(client, number);
  }

  async #build(client: ClientBase | Pool, number: number): Promise<Edition> {
    const record = await findEdition(client, number);
    if (record === null) throw new Error(`there is no edition ${number}`);
    // A newer program has put an edition into force: this process must be replaced; it does not guess.
    if (record.program > EDITION) throw new Overloaded('an edition of a newer program is in force');
    const edition = { number, limits: limitsOf(record.configuration) };
    this.#built.set(number, edition);
    return edition;
  }

  #known(number: number): Edition {
    const edition = this.#built.get(number);
    if (edition === undefined) throw new Error(`edition ${number} was not built before its use`);
    return edition;
  }
}

/** The last of the schedule that has begun; the first is in force from the beginning. */
function numberAt(schedule: readonly InForce[], atMs: number): number {
  const begun = schedule.findLast(({ fromMs }) => fromMs <= atMs);
  if (begun === undefined) throw new Error('no edition is in force');
  return begun.number;
}
