import type { ClientRecord } from '../../store/clients.js';

/** How long a client's state may be out of date: a disabled client is out after this at the latest. */
const MAX_AGE_MS = 2_000;
/** Bounds the memory that requests with made-up client ids can take. */
const MAX_ENTRIES = 10_000;

interface Entry {
  readonly readAtMs: number;
  readonly reading: Promise<ClientRecord | null>;
  record?: ClientRecord | null;
}

export interface ClientCache {
  /** The record if it is at hand and fresh, so that a busy sender needs not wait for a promise. */
  peek(clientId: string): ClientRecord | null | undefined;
  find(clientId: string): Promise<ClientRecord | null>;
  /** Forgets a client whose state this process has just changed. */
  forget(clientId: string): void;
  forgetAll(): void;
}

/** The present state of clients, at most {@link MAX_AGE_MS} old. Many requests share one look-up. */
export function createClientCache(
  findClient: (clientId: string) => Promise<ClientRecord | null>,
): ClientCache {
  const entries = new Map<string, Entry>();

  function fresh(clientId: string): Entry | undefined {
    const entry = entries.get(clientId);
    return entry !== undefined && Date.now() - entry.readAtMs < MAX_AGE_MS ? entry : undefined;
  }

  function read(clientId: string): Entry {
    const entry: Entry = { readAtMs: Date.now(), reading: findClient(clientId) };
    entries.delete(clientId);
    if (entries.size >= MAX_ENTRIES) entries.delete(entries.keys().next().value ?? '');
    entries.set(clientId, entry);
    entry.reading.then(
      (record) => {
        entry.record = record;
      },
      () => {
        if (entries.get(clientId) === entry) entries.delete(clientId);
      },
    );
    return entry;
  }

  return {
    peek: (clientId) => fresh(clientId)?.record,
    find: (clientId) => (fresh(clientId) ?? read(clientId)).reading,
    forget: (clientId) => void entries.delete(clientId),
    forgetAll: () => {
      entries.clear();
    },
  };
}
