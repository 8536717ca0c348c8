/** How a sender does, in words. */
import type { Verdict } from '../../../vitals/words.js';

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;

/** `3 min ago`; times that are still to come, by a clock that differs, are `now`. */
export function agoText(atMs: number, nowMs: number): string {
  const gone = Math.max(0, nowMs - atMs);
  if (gone < MINUTE_MS) return 'now';
  if (gone < HOUR_MS) return `${Math.floor(gone / MINUTE_MS)} min ago`;
  if (gone < 2 * DAY_MS) return `${Math.floor(gone / HOUR_MS)} h ago`;
  return `${Math.floor(gone / DAY_MS)} days ago`;
}

/** `12.5 s ahead`, `2 min behind`; null: nothing told. */
export function clockText(aheadMs: number | null): string | null {
  if (aheadMs === null) return null;
  const size = Math.abs(aheadMs);
  const direction = aheadMs < 0 ? 'behind' : 'ahead';
  if (size < 1_000) return 'within a second';
  if (size < 2 * MINUTE_MS) return `${(size / 1_000).toFixed(1)} s ${direction}`;
  if (size < 2 * HOUR_MS) return `${Math.round(size / MINUTE_MS)} min ${direction}`;
  return `${(size / HOUR_MS).toFixed(1)} h ${direction}`;
}

type Counts = Readonly<Record<Verdict, number>>;

export function readingsOf({ accepted, noted, held, rejected }: Counts): number {
  return accepted + noted + held + rejected;
}

/** `4 of 100 (4 %)`; `–` where there was nothing. */
export function shareText(part: number, all: number): string {
  if (all === 0) return '–';
  const percent = (100 * part) / all;
  const written = percent > 0 && percent < 1 ? percent.toFixed(1) : String(Math.round(percent));
  return `${part} of ${all} (${written} %)`;
}
