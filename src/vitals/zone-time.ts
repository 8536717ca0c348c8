/** A date or time as written on a calendar and a clock, without a zone. Month and day count from 1. */
export interface WallTime {
  readonly year: number;
  readonly month: number;
  readonly day: number;
  readonly hour: number;
  readonly minute: number;
  readonly second: number;
}

/** The clocks of one IANA zone. Times are milliseconds since 1970 in UTC. */
export interface ZoneClock {
  /** Every moment at which they show this: none when it is skipped, two when they are put back. */
  readonly momentsAt: (wall: WallTime) => readonly number[];
  /**
   * The first moment at which they show this; a time that is skipped is moved on by as much as the
   * clocks are.
   */
  readonly firstMomentAt: (wall: WallTime) => number;
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

const HOUR_MS = 3_600_000;
const MAX_HOURS = 1024;

/** Asks once for an hour in which the offset does not change: times of one message lie close together. */
function rememberOffsets(offsetMs: (epochMs: number) => number): (epochMs: number) => number {
  const hours = new Map<number, number>();
  return (epochMs) => {
    const hour = Math.floor(epochMs / HOUR_MS);
    const known = hours.get(hour);
    if (known !== undefined) return known;
    const first = offsetMs(hour * HOUR_MS);
    if (first !== offsetMs((hour + 1) * HOUR_MS - 1)) return offsetMs(epochMs);
    if (hours.size === MAX_HOURS) hours.clear();
    hours.set(hour, first);
    return first;
  };
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
 * The clocks of a zone by its IANA name.
 *
 * @throws RangeError when the zone is unknown.
 */
export function zoneClock(zoneName: string): ZoneClock {
  const zone = new Intl.DateTimeFormat('en-US', { timeZone: zoneName, timeZoneName: 'longOffset' });
  const offsetMs = rememberOffsets((epochMs) => zoneOffsetMs(zone, epochMs));
  const momentsAt = (asUtcMs: number) => {
    const early = asUtcMs - offsetMs(asUtcMs - DAY_MS);
    const late = asUtcMs - offsetMs(asUtcMs + DAY_MS);
    if (early === late) return { early, moments: [early] };
    const shown = (epochMs: number) => epochMs + offsetMs(epochMs) === asUtcMs;
    return { early, moments: [early, late].filter(shown) };
  };
  return {
    momentsAt: (wall) => momentsAt(utcMs(wall)).moments,
    firstMomentAt: (wall) => {
      const { early, moments } = momentsAt(utcMs(wall));
      return moments[0] ?? early;
    },
  };
}
