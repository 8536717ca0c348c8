/** Sets of public keys that others publish (RFC 7517), remembered as long as their publisher allows. */
import type { IncomingHttpHeaders } from 'node:http';
import { z } from 'zod';
import { OutsideError } from '../../outside/fetch-outside.js';
import type { FetchOutside } from '../../outside/fetch-outside.js';

export type PublishedKey = Readonly<Record<string, unknown>>;

/** Which key signed something. */
export interface WantedKey {
  readonly kid: string;
  readonly kty: string;
}

/** Why a key set is not to be had: the host does not answer, or answers with something else. */
export class KeySetUnavailable extends Error {
  override readonly name = 'KeySetUnavailable';
}

/** Without a word of the publisher a set is fetched again after this. */
const DEFAULT_FRESH_MS = 5 * 60_000;
/** However long the publisher allows: a key that is withdrawn is out after this. */
const MAX_FRESH_MS = 60 * 60_000;
/** An unknown key, or a host that failed, has a set fetched again, but no more often than this. */
const MIN_RELOAD_MS = 10_000;
const FETCH_BOUNDS = { maxBytes: 64 * 1024, timeoutMs: 5_000 };
/** Bounds the memory that registered addresses can take. */
const MAX_SETS = 1_000;

const KeySetBody = z.looseObject({
  keys: z.array(z.record(z.string(), z.unknown())).max(100),
});

/**
 * How long an answer may be used. SMART App Launch 2.2 (client-confidential-asymmetric): never longer than
 * Cache-Control says. RFC 9111 §5.2.2, §4.2.3 for its words and the age.
 */
export function freshMsOf(headers: IncomingHttpHeaders): number {
  const text = headers['cache-control'];
  if (text === undefined) return DEFAULT_FRESH_MS;
  const words = text
    .toLowerCase()
    .split(',')
    .map((word) => word.trim());
  if (words.includes('no-store') || words.includes('no-cache')) return 0;
  const maxAge = words.find((word) => word.startsWith('max-age='));
  if (maxAge === undefined) return DEFAULT_FRESH_MS;
  // RFC 9111 §4.2.1: what cannot be read is taken for stale.
  const seconds = Number(/^max-age="?(\d{1,12})"?$/.exec(maxAge)?.[1] ?? 0);
  const ageSeconds = Number(/^\d{1,12}$/.exec(headers.age ?? '')?.[0] ?? 0);
  return Math.min(Math.max(0, seconds - ageSeconds) * 1000, MAX_FRESH_MS);
}

/** Asks for JSON, and gives it with its headers. */
export async function fetchJson(
  fetch: FetchOutside,
  url: string,
): Promise<{ readonly value: unknown; readonly headers: IncomingHttpHeaders }> {
  try {
    const answer = await fetch(url, { ...FETCH_BOUNDS, headers: { Accept: 'application/json' } });
    if (answer.status !== 200) throw new KeySetUnavailable(`It is answered ${answer.status}.`);
    return { value: JSON.parse(answer.body.toString('utf8')), headers: answer.headers };
  } catch (error) {
    if (error instanceof KeySetUnavailable) throw error;
    if (error instanceof OutsideError) throw new KeySetUnavailable(error.message);
    throw new KeySetUnavailable('What is answered is not JSON.');
  }
}

export interface LoadedKeySet {
  readonly keys: readonly PublishedKey[];
  readonly freshMs: number;
}

/** The key set at an address. */
export async function loadKeySet(fetch: FetchOutside, url: string): Promise<LoadedKeySet> {
  const { value, headers } = await fetchJson(fetch, url);
  const parsed = KeySetBody.safeParse(value);
  if (!parsed.success) throw new KeySetUnavailable('What is answered is no set of keys.');
  return { keys: parsed.data.keys, freshMs: freshMsOf(headers) };
}

/** The keys of a set that have both the id and the type: one of them if all is well. */
export function matchingKeys(keys: readonly PublishedKey[], wanted: WantedKey): PublishedKey[] {
  return keys.filter(({ kid, kty }) => kid === wanted.kid && kty === wanted.kty);
}

interface Attempt {
  readonly startedAtMs: number;
  readonly loading: Promise<LoadedKeySet>;
  loaded?: LoadedKeySet;
  failed?: true;
}

/** One published set. Many requests share one fetch. */
export class RemoteKeySet {
  readonly #load: () => Promise<LoadedKeySet>;
  #last: Attempt | null = null;

  constructor(load: () => Promise<LoadedKeySet>) {
    this.#load = load;
  }

  /** @throws KeySetUnavailable */
  async find(wanted: WantedKey): Promise<PublishedKey[]> {
    const attempt = this.#fresh() ?? this.#reload();
    const found = matchingKeys((await attempt.loading).keys, wanted);
    // A key that came lately: the set may have been fetched before.
    if (found.length > 0 || Date.now() - attempt.startedAtMs < MIN_RELOAD_MS) return found;
    return matchingKeys((await this.#reload(attempt).loading).keys, wanted);
  }

  /** The last attempt, if it is under way, or has failed just now, or its keys may still be used. */
  #fresh(): Attempt | null {
    const last = this.#last;
    if (last === null) return null;
    const ageMs = Date.now() - last.startedAtMs;
    if (last.failed) return ageMs < MIN_RELOAD_MS ? last : null;
    return last.loaded === undefined || ageMs < last.loaded.freshMs ? last : null;
  }

  /** @param than fetches only if nobody else has, since that attempt */
  #reload(than: Attempt | null = this.#last): Attempt {
    if (this.#last !== null && this.#last !== than) return this.#last;
    const attempt: Attempt = { startedAtMs: Date.now(), loading: this.#load() };
    attempt.loading.then(
      (loaded) => {
        attempt.loaded = loaded;
      },
      () => {
        attempt.failed = true;
      },
    );
    this.#last = attempt;
    return attempt;
  }
}

/** The key sets of clients, by their addresses. */
export interface KeySets {
  /** @throws KeySetUnavailable */
  find(url: string, wanted: WantedKey): Promise<PublishedKey[]>;
}

export function createKeySets(fetch: FetchOutside): KeySets {
  const sets = new Map<string, RemoteKeySet>();
  return {
    find(url, wanted) {
      const set = sets.get(url) ?? new RemoteKeySet(() => loadKeySet(fetch, url));
      sets.delete(url);
      if (sets.size >= MAX_SETS) sets.delete(sets.keys().next().value ?? '');
      sets.set(url, set);
      return set.find(wanted);
    },
  };
}
