/** A date or time as written on a calendar and a clock, without a zone. Month and day count from 1. */
export interface WallTime {
  readonly year: number;
  readonly month: number;
  readonly day: number;
  readonly hour: number;
  readonly minute: number;
  readonly second: number;
}

const DAY_MS = 86_400_000;
const OFFSET = /^GMT(?:([+-])(\d\d):(\d\d)(?::(\d\d))?)?$/;

/** Milliseconds east of UTC of an IANA zone at a moment. */
function zoneOffsetMs(zone: Intl.DateTimeFormat, epochMs: number): number {
  const name = zone.formatToParts(epochMs).find((part) => part.type === 'timeZoneName')?.value;
  const [, sign, hours = '0', minutes = '0', seconds = '0'] = OFFSET.exec(name ?? '') ?? [];
  const size = ((Number(hours) * 60 + Number(minutes)) * 60 + Number(seconds)) * 1000;
  return sign === '-' ? -size : size;
}

/** The moment at which clocks in UTC show this; members beyond their range (month 13) carry over. */
export function utcMs(wall: WallTime): number {
  const date = new Date(0);
  // setUTCFullYear, because Date.UTC takes the years 0 to 99 for 1900 to 1999.
  date.setUTCFullYear(wall.year, wall.month - 1, wall.day);
  date.setUTCHours(wall.hour, wall.minute, wall.second);
  return date.getTime();
}

/**
 * A function that gives the moment at which the clocks of an IANA zone show a wall time. A time that
 * occurs twice (clocks put back) is its first occurrence; one that is skipped is moved on by as much
 * as the clocks are.
 *
 * @throws RangeError when the zone is unknown.
 */
export function siteClock(zoneName: string): (wall: WallTime) => number {
  const zone = new Intl.DateTimeFormat('en-US', { timeZone: zoneName, timeZoneName: 'longOffset' });
  return (wall) => {
    const asUtcMs = utcMs(wall);
    const before = zoneOffsetMs(zone, asUtcMs - DAY_MS);
    const after = zoneOffsetMs(zone, asUtcMs + DAY_MS);
    const early = asUtcMs - before;
    if (before === after || zoneOffsetMs(zone, early) === before) return early;
    const late = asUtcMs - after;
    return zoneOffsetMs(zone, late) === after ? late : early;
  };
}
