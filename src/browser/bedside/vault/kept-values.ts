/** Small things that outlive the page, each sealed under its name: who was signed in last, the site's defaults. */
import type { DeviceDatabase, Sealed } from './device-database.js';
import type { Seal } from './seal.js';

export class KeptValues {
  readonly #database: DeviceDatabase;
  readonly #seal: Seal;

  constructor(database: DeviceDatabase, seal: Seal) {
    this.#database = database;
    this.#seal = seal;
  }

  /** Null: nothing is kept under that name, or this device lets nothing be read. */
  async load<T>(name: string): Promise<T | null> {
    try {
      const sealed = await this.#database.read<Sealed | undefined>('kept', (store) =>
        store.get(name),
      );
      return sealed === undefined ? null : ((await this.#seal.open(name, sealed)) as T | null);
    } catch {
      return null;
    }
  }

  /** A device that keeps nothing has to ask again the next time: no more is lost. */
  async save(name: string, value: unknown): Promise<void> {
    try {
      const sealed = await this.#seal.close(name, value);
      await this.#database.write('kept', (store) => store.put(sealed, name));
    } catch {
      // See above.
    }
  }

  async forget(name: string): Promise<void> {
    try {
      await this.#database.write('kept', (store) => store.delete(name));
    } catch {
      // What cannot be written cannot be kept either.
    }
  }
}
