import type { JSX } from 'preact';
import { usePage } from '../parts/page-context.js';

/** More than this and the times of a set mislead. */
const NOTICEABLE_MS = 60_000;

/** This device's clock differs from the gateway's, or was moved while the page was open. */
export function ClockWarning(): JSX.Element | null {
  const { session, say } = usePage();
  const { aheadMs, steppedMs } = session.around.door.clock();
  const minutes = (ms: number): number => Math.round(Math.abs(ms) / 60_000);
  if (aheadMs !== null && Math.abs(aheadMs) > NOTICEABLE_MS) {
    const key = aheadMs > 0 ? 'clock.ahead' : 'clock.behind';
    return <p class="notice">{say(key, { minutes: minutes(aheadMs) })}</p>;
  }
  if (Math.abs(steppedMs) <= NOTICEABLE_MS) return null;
  return <p class="notice">{say('clock.stepped', { minutes: minutes(steppedMs) })}</p>;
}
