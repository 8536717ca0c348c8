/** How long to wait before sets are tried again. */
const FIRST_MS = 2_000;
const LONGEST_MS = 60_000;

/**
 * Twice as long after each failure, up to a minute, and not all devices of a ward at once.
 * @param failures in a row, 1 or more
 * @param askedMs what the gateway asked for; it is never waited for less
 * @param random from 0 to 1
 */
export function retryWaitMs(failures: number, askedMs: number | null, random: number): number {
  const longest = Math.min(LONGEST_MS, FIRST_MS * 2 ** (failures - 1));
  const wait = longest * (0.5 + random / 2);
  return Math.max(wait, askedMs ?? 0);
}
