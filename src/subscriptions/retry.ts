/** When a notification that was not taken is sent again, and when that ends. */

/** After so long without a success the subscription is in error: its owner has to look at it. */
export const GIVE_UP_MS = 24 * 3_600_000;
/** A subscriber that refuses an event so often does not get it; those after it go on. */
export const MOST_REFUSALS = 6;
/** So many refused one after the other are no odd one among good ones: the subscription is in error. */
export const MOST_GIVEN_UP = 3;

const FIRST_MS = 1_000;
const LONGEST_MS = 5 * 60_000;
/** A subscriber may ask for more patience than that, not for any. */
const LONGEST_ASKED_MS = 3_600_000;

/**
 * How long to wait after the n-th failure in a row: twice as long each time, less a random part of up to a
 * half, so that many subscriptions of one broken host do not come back at once.
 *
 * @param random from 0 (inclusive) to 1
 * @param askedMs what the subscriber asked for by Retry-After; null: nothing
 */
export function delayMs(failures: number, random: number, askedMs: number | null): number {
  const whole = Math.min(FIRST_MS * 2 ** Math.min(Math.max(failures - 1, 0), 30), LONGEST_MS);
  const own = Math.round(whole * (1 - random / 2));
  return Math.max(own, Math.min(askedMs ?? 0, LONGEST_ASKED_MS));
}

/** RFC 9110 §10.2.3: seconds or an HTTP date; null: absent or neither. */
export function readRetryAfter(header: string | undefined, nowMs: number): number | null {
  if (header === undefined) return null;
  if (/^\d{1,9}$/.test(header)) return Number(header) * 1_000;
  const atMs = header.endsWith('GMT') ? Date.parse(header) : NaN;
  return Number.isNaN(atMs) ? null : Math.max(0, atMs - nowMs);
}
