/** How long a sender waits, whatever it speaks. */
import { setTimeout as sleep } from 'node:timers/promises';

/** A sender that waits no longer may take a slow answer for a lost one. */
export const ANSWER_TIMEOUT_MS = 30_000;
/** Long enough for an answer to half a message to be seen, were there one. */
export const CUT_PAUSE_MS = 250;

const FIRST_RETRY_MS = 100;
const LONGEST_RETRY_MS = 5_000;

/** How long to wait after a failure, from how long it was before it. */
export function nextRetryMs(waitedMs: number): number {
  return Math.min(LONGEST_RETRY_MS, Math.max(FIRST_RETRY_MS, 2 * waitedMs));
}

/** Waits, or less long once the signal is given. */
export async function pause(forMs: number, signal: AbortSignal): Promise<void> {
  await sleep(forMs, undefined, { signal }).catch(() => undefined);
}
