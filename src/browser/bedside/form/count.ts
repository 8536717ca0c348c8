/**
 * Counting breaths or beats by touch. The first tap starts the time and counts as nought: who starts at
 * one counts one interval too many (60/T a minute; see `vitals/limits-sources-measuring.ts`). All times
 * are of a clock that only goes on (`performance.now`), in ms, so that a clock set anew does no harm.
 */
export const COUNT_SECONDS = [15, 30, 60] as const;
export type CountSeconds = (typeof COUNT_SECONDS)[number];

/** Why a count that ran cannot be used. */
export type Interruption = 'reloaded' | 'out-of-sight' | 'signal-late';

export type Count =
  | { readonly state: 'ready'; readonly seconds: CountSeconds }
  | {
      readonly state: 'running';
      readonly seconds: CountSeconds;
      readonly startedMs: number;
      /** When each was tapped, in ms since the start. */
      readonly taps: readonly number[];
    }
  | {
      readonly state: 'done';
      readonly seconds: CountSeconds;
      /** Null: nobody tapped; the count is typed. */
      readonly count: number | null;
    }
  | {
      readonly state: 'interrupted';
      readonly seconds: CountSeconds;
      readonly why: Interruption;
      readonly tapped: number;
    };

/** A finger that bounces: no heart beats 500 times a minute. */
const BOUNCE_MS = 120;
/** A signal that comes later than this has let the person count on too long. */
const LATE_MS = 1000;
/** The most that a set takes (schema of a reading). */
export const MOST_COUNTED = 1000;

export function readyCount(seconds: CountSeconds): Count {
  return { state: 'ready', seconds };
}

function endMs(count: { startedMs: number; seconds: number }): number {
  return count.startedMs + count.seconds * 1000;
}

/** One touch: it starts the time, or counts one. After the end it does nothing more. */
export function tapCount(count: Count, nowMs: number): Count {
  if (count.state === 'ready') {
    return { state: 'running', seconds: count.seconds, startedMs: nowMs, taps: [] };
  }
  if (count.state !== 'running') return count;
  if (nowMs >= endMs(count)) return finish(count);
  const sinceMs = nowMs - count.startedMs;
  if (sinceMs - (count.taps.at(-1) ?? 0) < BOUNCE_MS) return count;
  return { ...count, taps: [...count.taps, sinceMs] };
}

function finish({ seconds, taps }: Extract<Count, { state: 'running' }>): Count {
  return { state: 'done', seconds, count: taps.length === 0 ? null : taps.length };
}

/** The passing of time. Who taps is told by the taps themselves; who counts in the head, by the signal. */
export function passTime(count: Count, nowMs: number): Count {
  if (count.state !== 'running' || nowMs < endMs(count)) return count;
  const late = nowMs - endMs(count) > LATE_MS;
  return late && count.taps.length === 0 ? interruptCount(count, 'signal-late') : finish(count);
}

/** Takes the last tap back. */
export function undoTap(count: Count): Count {
  return count.state === 'running' ? { ...count, taps: count.taps.slice(0, -1) } : count;
}

/** Another length; a count that runs goes on with what was counted, if it is not over by then. */
export function setSeconds(count: Count, seconds: CountSeconds, nowMs: number): Count {
  if (count.state === 'ready') return readyCount(seconds);
  if (count.state !== 'running') return count;
  return nowMs < endMs({ ...count, seconds }) ? { ...count, seconds } : count;
}

export function interruptCount(count: Count, why: Interruption): Count {
  if (count.state !== 'running') return count;
  return { state: 'interrupted', seconds: count.seconds, why, tapped: count.taps.length };
}

/** Counted by another clock: the number is typed. */
export function typeInstead(count: Count): Count {
  return count.state === 'ready' ? { state: 'done', seconds: count.seconds, count: null } : count;
}

export function startAgain({ seconds }: Count): Count {
  return readyCount(seconds);
}

/** Seconds left, rounded up, so that nought means over. */
export function secondsLeft(count: Count, nowMs: number): number {
  if (count.state === 'ready') return count.seconds;
  if (count.state !== 'running') return 0;
  return Math.max(0, Math.ceil((endMs(count) - nowMs) / 1000));
}

/** What the count makes a minute. */
export function perMinute(count: number, seconds: CountSeconds): number {
  return count * (60 / seconds);
}
