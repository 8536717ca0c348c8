/** Sets that wait on this device, sealed, in the order in which they were kept. */
import type { Identifier } from '../../../vitals/incoming.js';
import type { Problem } from '../door.js';
import type { DeviceDatabase, WaitingRow } from '../vault/device-database.js';
import type { Seal } from '../vault/seal.js';

/** All that is known of a set that waits. */
export interface KeptSet {
  readonly setId: string;
  /** The very text that is sent, each time the same: so the gateway knows a repeat. */
  readonly body: string;
  readonly keptAt: string;
  /** Who took it. */
  readonly person: Identifier;
  /** By which another person may hand it in as this one's; null: this device had none. */
  readonly voucher: string | null;
  /** The gateway will not take it as it is. */
  readonly refusal: Problem | null;
}

function nameOf(setId: string): string {
  return `set ${setId}`;
}

export class WaitingSets {
  readonly #database: DeviceDatabase;
  readonly #seal: Seal;

  constructor(database: DeviceDatabase, seal: Seal) {
    this.#database = database;
    this.#seal = seal;
  }

  /** Keeps a set that is not kept yet; one that is stays as it is. @throws DOMException of the storage */
  async keep(set: KeptSet): Promise<KeptSet> {
    const known = await this.find(set.setId);
    if (known !== null) return known;
    const row = { ...(await this.#seal.close(nameOf(set.setId), set)), setId: set.setId };
    try {
      await this.#database.write('waiting', (store) => store.add(row));
      return set;
    } catch (error) {
      // A second tap, or another tab, may have been quicker.
      const quicker = await this.find(set.setId);
      if (quicker === null) throw error;
      return quicker;
    }
  }

  async find(setId: string): Promise<KeptSet | null> {
    const row = await this.#row(setId);
    return row === null ? null : this.#open(row);
  }

  /** Keeps what is known of a set in its place; one that has gone meanwhile stays gone. */
  async change(set: KeptSet): Promise<void> {
    const row = await this.#row(set.setId);
    if (row === null) return;
    const sealed = await this.#seal.close(nameOf(set.setId), set);
    await this.#database.write('waiting', (store) => store.put({ ...row, ...sealed }));
  }

  async remove(setId: string): Promise<void> {
    const row = await this.#row(setId);
    if (row !== null) await this.#database.write('waiting', (store) => store.delete(row.place));
  }

  /** Their ids, the longest waiting first. */
  async ids(): Promise<readonly string[]> {
    const rows = await this.#rows();
    return rows.map(({ setId }) => setId);
  }

  /** Those that can be opened; what cannot be is counted, and never thrown away. */
  async all(): Promise<readonly KeptSet[]> {
    const rows = await this.#rows();
    const opened = await Promise.all(rows.map((row) => this.#open(row)));
    return opened.filter((set) => set !== null);
  }

  /** 0 where this device lets nothing be read. */
  async count(): Promise<number> {
    try {
      return await this.#database.read('waiting', (store) => store.count());
    } catch {
      return 0;
    }
  }

  #rows(): Promise<WaitingRow[]> {
    return this.#database.read<WaitingRow[]>('waiting', (store) => store.getAll());
  }

  async #row(setId: string): Promise<WaitingRow | null> {
    const found = await this.#database.read<WaitingRow | undefined>('waiting', (store) =>
      store.index('by-set').get(setId),
    );
    return found ?? null;
  }

  async #open(row: WaitingRow): Promise<KeptSet | null> {
    return (await this.#seal.open(nameOf(row.setId), row)) as KeptSet | null;
  }
}
