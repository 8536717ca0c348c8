/** What strangers get on record of their refusals: so many a minute, however many they ask for. */

const WINDOW_MS = 60_000;
/** Enough to see who tries what; a flood must not fill the disk. */
const MOST_A_MINUTE = 60;

/**
 * Tells of each refusal of somebody unknown whether it is put on record: then how many before it were not,
 * else null.
 * @param clock ms since the epoch
 */
export function createStrangerTally(clock: () => number = Date.now): () => number | null {
  let windowStartMs = 0;
  let recorded = 0;
  let passedOver = 0;
  return () => {
    const nowMs = clock();
    if (nowMs >= windowStartMs + WINDOW_MS) {
      windowStartMs = nowMs;
      recorded = 0;
    }
    if (recorded >= MOST_A_MINUTE) {
      passedOver += 1;
      return null;
    }
    recorded += 1;
    const before = passedOver;
    passedOver = 0;
    return before;
  };
}
