/** What the page keeps on this device, in IndexedDB: a key, sealed sets in their order, sealed odds and ends. */

/** A text encrypted with the key of this device. */
export interface Sealed {
  readonly iv: Uint8Array<ArrayBuffer>;
  readonly bytes: ArrayBuffer;
}

/** A set that waits. Its id is no secret; everything else is sealed. */
export interface WaitingRow extends Sealed {
  /** Rises with each set: sets go in this order. */
  readonly place: number;
  readonly setId: string;
}

export interface DraftRow extends Sealed {
  readonly draftId: string;
  readonly savedMs: number;
}

/** Why nothing can be kept here just now. */
export type StorageFault = 'storage-full' | 'storage-denied';

const NAME = 'bedside';
const VERSION = 1;
export type StoreName = 'keys' | 'waiting' | 'drafts' | 'kept';

/** A disk that is full and one that the browser keeps from us are told apart; anything else is the latter. */
export function storageFaultOf(error: unknown): StorageFault {
  return error instanceof DOMException && error.name === 'QuotaExceededError'
    ? 'storage-full'
    : 'storage-denied';
}

function makeStores(database: IDBDatabase): void {
  database.createObjectStore('keys');
  database
    .createObjectStore('waiting', { keyPath: 'place', autoIncrement: true })
    .createIndex('by-set', 'setId', { unique: true });
  database.createObjectStore('drafts', { keyPath: 'draftId' });
  database.createObjectStore('kept');
}

function promised(request: IDBRequest): Promise<unknown> {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => {
      resolve(request.result);
    };
    request.onerror = () => {
      reject(request.error ?? new DOMException('the request failed', 'UnknownError'));
    };
  });
}

/** Opens the database, and opens it anew after the browser has closed it. */
export class DeviceDatabase {
  #opening: Promise<IDBDatabase> | null = null;

  /** Whether what is kept may be thrown away when the disk runs short is the browser's to say; it is asked not to. */
  static async askToPersist(): Promise<void> {
    try {
      await navigator.storage.persist();
    } catch {
      // It is kept as long as the browser likes, then.
    }
  }

  #open(): Promise<IDBDatabase> {
    this.#opening ??= new Promise((resolve, reject) => {
      const request = indexedDB.open(NAME, VERSION);
      request.onupgradeneeded = () => {
        makeStores(request.result);
      };
      request.onsuccess = () => {
        request.result.onclose = () => {
          this.#opening = null;
        };
        request.result.onversionchange = () => {
          request.result.close();
          this.#opening = null;
        };
        resolve(request.result);
      };
      request.onerror = () => {
        this.#opening = null;
        reject(request.error ?? new DOMException('no database', 'UnknownError'));
      };
    });
    return this.#opening;
  }

  /** @typeParam T what is kept there: written by this program and nobody else */
  async read<T>(store: StoreName, ask: (store: IDBObjectStore) => IDBRequest): Promise<T> {
    const database = await this.#open();
    return (await promised(ask(database.transaction(store).objectStore(store)))) as T;
  }

  /** Resolves when what was written is on the disk. */
  async write(store: StoreName, ask: (store: IDBObjectStore) => IDBRequest): Promise<void> {
    const database = await this.#open();
    const transaction = database.transaction(store, 'readwrite', { durability: 'strict' });
    const done = new Promise<void>((resolve, reject) => {
      const fail = (): void => {
        reject(transaction.error ?? new DOMException('not written', 'UnknownError'));
      };
      transaction.oncomplete = () => {
        resolve();
      };
      transaction.onabort = fail;
      transaction.onerror = fail;
    });
    await Promise.all([promised(ask(transaction.objectStore(store))), done]);
  }
}
