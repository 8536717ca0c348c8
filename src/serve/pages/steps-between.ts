/** The hours or days of a zone that a time has, as the database cuts them. */
import { zoneClock } from '../../vitals/zone-time.js';
import { writeSiteTime } from './site-time.js';

/**
 * Begins of all steps from the one that `fromMs` lies in to the last before `toMs`, oldest first (ms since
 * the epoch). Days begin at midnight on the clocks of the zone, and may have 23 or 25 hours.
 */
export function stepsBetween(
  { fromMs, toMs }: { readonly fromMs: number; readonly toMs: number },
  step: 'hour' | 'day',
  zone: string,
): number[] {
  const clock = zoneClock(zone);
  const begins = new Set<number>();
  const lengthMs = step === 'hour' ? 3_600_000 : 86_400_000;
  // Half a step at a time, so that no short day is stepped over.
  for (let atMs = fromMs; atMs < toMs + lengthMs; atMs += lengthMs / 2) {
    const [date = '', time = ''] = writeSiteTime(atMs, zone).split('T');
    const [year = 0, month = 0, day = 0] = date.split('-').map(Number);
    if (step === 'hour') {
      const minutes = Number(time.slice(3, 5));
      const begin = Math.floor(atMs / 60_000) * 60_000 - minutes * 60_000;
      if (begin < toMs) begins.add(begin);
    } else {
      const begin = clock.firstMomentAt({ year, month, day, hour: 0, minute: 0, second: 0 });
      if (begin < toMs) begins.add(begin);
    }
  }
  return [...begins].sort((a, b) => a - b);
}
