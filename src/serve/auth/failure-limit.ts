import { MemoryStore } from 'express-rate-limit';
import type { Options } from 'express-rate-limit';
import { tooManyRequests } from '../http/rate-limits.js';

const WINDOW_MS = 60_000;
const MAX_FAILURES = 10;

/** Counts failures by key; unlike a limit on requests it never slows down those who succeed. */
export interface FailureLimit {
  /** Throws a 429 when this key has failed too often within the last minute. */
  check(key: string): Promise<void>;
  count(key: string): Promise<void>;
}

export function createFailureLimit(): FailureLimit {
  const store = new MemoryStore();
  store.init({ windowMs: WINDOW_MS } as Options);
  return {
    async check(key) {
      const failures = await store.get(key);
      if ((failures?.totalHits ?? 0) >= MAX_FAILURES) throw tooManyRequests(failures?.resetTime);
    },
    async count(key) {
      await store.increment(key);
    },
  };
}
