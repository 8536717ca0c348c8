/** What follows from a notification that its subscriber has not taken. */
import type { Pool } from '../store/pool.js';
import { giveUpEvent, noteFailure, setStatus } from '../store/subscription-work.js';
import type { SubscriptionWork, WorkDone } from '../store/subscription-work.js';
import { GIVE_UP_MS, MOST_GIVEN_UP, MOST_REFUSALS, delayMs } from './retry.js';
import type { Sent } from './send.js';

/**
 * @param eventNumber the event, where the notification was about one alone; null: about several or none
 */
export async function noteUnsent(
  { pool, clock, random }: { readonly pool: Pool; clock: () => number; random: () => number },
  work: SubscriptionWork,
  before: WorkDone,
  sent: Exclude<Sent, { kind: 'taken' }>,
  eventNumber: number | null,
): Promise<'on' | 'off'> {
  const nowMs = clock();
  const done = { ...before, nowMs };
  const { error } = sent;
  if (sent.kind === 'gone') {
    await setStatus(pool, done, 'off', error);
    return 'off';
  }
  const attempts = work.refusals + 1;
  if (sent.kind === 'refused' && eventNumber !== null && attempts >= MOST_REFUSALS) {
    return putAside(pool, work, done, { eventNumber, attempts, reason: error });
  }
  if (work.failingSinceMs !== null && nowMs - work.failingSinceMs >= GIVE_UP_MS) {
    await setStatus(pool, done, 'error', `Nothing was taken for a day. ${error}`);
    return 'off';
  }
  const askedMs = sent.kind === 'failed' ? sent.retryAfterMs : null;
  const dueMs = nowMs + delayMs(work.failures + 1, random(), askedMs);
  await noteFailure(pool, done, { error, dueMs, refused: sent.kind === 'refused' });
  return 'off';
}

async function putAside(
  pool: Pool,
  work: SubscriptionWork,
  done: WorkDone,
  letter: { readonly eventNumber: number; readonly attempts: number; readonly reason: string },
): Promise<'on' | 'off'> {
  await giveUpEvent(pool, done, letter);
  if (work.givenUp + 1 < MOST_GIVEN_UP) return 'on';
  const text = `${MOST_GIVEN_UP} events in a row were refused. ${letter.reason}`;
  await setStatus(pool, done, 'error', text);
  return 'off';
}
