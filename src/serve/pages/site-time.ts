/** Times as people write them into forms: on the clocks of the site, without an offset. */
import { zoneClock } from '../../vitals/zone-time.js';
import type { ZoneClock } from '../../vitals/zone-time.js';

const clocks = new Map<string, ZoneClock>();

function clockOf(zone: string): ZoneClock {
  const known = clocks.get(zone) ?? zoneClock(zone);
  clocks.set(zone, known);
  return known;
}

const FORM = /^(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d):(\d\d)(?::(\d\d))?)?$/;

/**
 * A date, or a date and a time, as the fields of forms send them (HTML `date` and `datetime-local`), in ms
 * since the epoch. A time that the clocks show twice is the first of the two. Null: it is no time.
 *
 * @param zone IANA name
 */
export function readSiteTime(text: string, zone: string): number | null {
  const match = FORM.exec(text.trim());
  if (match === null) return null;
  const [year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0] = match
    .slice(1)
    .map((digits: string | undefined) => Number(digits ?? '0'));
  const isDay = new Date(Date.UTC(year, month - 1, day)).getUTCDate() === day;
  if (month < 1 || month > 12 || !isDay || hour > 23 || minute > 59 || second > 59) return null;
  return clockOf(zone).firstMomentAt({ year, month, day, hour, minute, second });
}

/** As `readSiteTime` reads it and a field `datetime-local` shows it. */
export function writeSiteTime(atMs: number, zone: string): string {
  const format = new Intl.DateTimeFormat('sv-SE', {
    ...{ year: 'numeric', month: '2-digit', day: '2-digit' },
    ...{ hour: '2-digit', minute: '2-digit', timeZone: zone },
  });
  return format.format(atMs).replace(' ', 'T');
}
