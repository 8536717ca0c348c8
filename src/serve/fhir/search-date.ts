import type { TimeRange } from '../../store/observation-conditions.js';
import { utcMs } from '../../vitals/zone-time.js';
import type { WallTime } from '../../vitals/zone-time.js';
import { ValueFault } from './token-values.js';

/** FHIR R4 §3.1.1.4.5: how the stated stretch of time and the resource's are compared. */
const PREFIXES = ['eq', 'ne', 'gt', 'ge', 'lt', 'le', 'sa', 'eb', 'ap'] as const;
type Prefix = (typeof PREFIXES)[number];

const DATE =
  /^(eq|ne|gt|ge|lt|le|sa|eb|ap)?(\d{4})(?:-(\d\d)(?:-(\d\d)(?:T(\d\d):(\d\d)(?::(\d\d)(?:\.(\d{1,9}))?)?(Z|[+-]\d\d:\d\d)?)?)?)?$/;

/** A stated time as the half-open stretch that its precision leaves: a day, a minute, a millisecond. */
export interface StatedTime {
  readonly prefix: Prefix;
  readonly fromMs: number;
  readonly toMs: number;
  /** The value with the offset filled in that a time of day without one was read in. */
  readonly resolved: string;
}

interface Fields extends WallTime {
  readonly precision: 'year' | 'month' | 'day' | 'minute' | 'second';
  readonly fraction: string;
  readonly zone: string | undefined;
}

/**
 * Reads the value of a date search parameter. Dates, and times without an offset, are those of the site.
 *
 * @throws ValueFault when it is no FHIR date, or a date that no calendar has.
 */
export function readStatedTime(value: string, siteMs: (wall: WallTime) => number): StatedTime {
  if (value.includes(' ')) {
    throw new ValueFault('holds a space: a plus sign in an address must be sent as %2B');
  }
  const match = DATE.exec(value);
  if (match === null) throw new ValueFault('is not a FHIR date, dateTime or instant');
  const fields = readFields(match);
  checkCalendar(fields);
  const offsetMs = fields.zone === undefined ? undefined : readOffsetMs(fields.zone);
  const toEpochMs = (wall: WallTime): number =>
    offsetMs === undefined ? siteMs(wall) : utcMs(wall) - offsetMs;
  return {
    prefix: PREFIXES.find((prefix) => prefix === match[1]) ?? 'eq',
    ...stretch(fields, toEpochMs),
    resolved: resolve(value, fields, toEpochMs),
  };
}

function readFields(match: RegExpExecArray): Fields {
  const [, , year, month, day, hour, minute, second, fraction, zone] = match;
  const precision =
    second !== undefined
      ? 'second'
      : hour !== undefined
        ? 'minute'
        : day !== undefined
          ? 'day'
          : month !== undefined
            ? 'month'
            : 'year';
  return {
    year: Number(year),
    month: Number(month ?? 1),
    day: Number(day ?? 1),
    hour: Number(hour ?? 0),
    minute: Number(minute ?? 0),
    second: Number(second ?? 0),
    precision,
    fraction: fraction ?? '',
    zone,
  };
}

function checkCalendar(fields: Fields): void {
  const { year, month, day, hour, minute, second } = fields;
  const date = new Date(utcMs({ year, month, day, hour: 0, minute: 0, second: 0 }));
  const onCalendar = year > 0 && date.getUTCMonth() === month - 1 && date.getUTCDate() === day;
  if (!onCalendar) throw new ValueFault('names a day that no calendar has');
  // 60 is a leap second, which the type `dateTime` allows.
  if (hour > 23 || minute > 59 || second > 60) {
    throw new ValueFault('names a time that no clock shows');
  }
}

function readOffsetMs(zone: string): number {
  if (zone === 'Z') return 0;
  const hours = Number(zone.slice(1, 3));
  const minutes = Number(zone.slice(4));
  if (minutes > 59 || hours * 60 + minutes > 14 * 60) {
    throw new ValueFault('has an offset beyond 14 hours');
  }
  return (zone.startsWith('-') ? -1 : 1) * (hours * 60 + minutes) * 60_000;
}

function stretch(
  fields: Fields,
  toEpochMs: (wall: WallTime) => number,
): { fromMs: number; toMs: number } {
  const fromMs = toEpochMs(fields);
  switch (fields.precision) {
    case 'year':
      return { fromMs, toMs: toEpochMs({ ...fields, year: fields.year + 1 }) };
    case 'month':
      return { fromMs, toMs: toEpochMs({ ...fields, month: fields.month + 1 }) };
    case 'day':
      return { fromMs, toMs: toEpochMs({ ...fields, day: fields.day + 1 }) };
    case 'minute':
      return { fromMs, toMs: fromMs + 60_000 };
    case 'second':
      return fractionOfSecond(fromMs, fields.fraction);
  }
}

/** Kept times are whole milliseconds, so both ends of a finer stretch may be rounded up to one. */
function fractionOfSecond(secondMs: number, fraction: string): { fromMs: number; toMs: number } {
  const perSecond = 10 ** fraction.length;
  const count = fraction === '' ? 0 : Number(fraction);
  return {
    fromMs: secondMs + Math.ceil((count * 1000) / perSecond),
    toMs: secondMs + Math.ceil(((count + 1) * 1000) / perSecond),
  };
}

function resolve(value: string, fields: Fields, toEpochMs: (wall: WallTime) => number): string {
  const hasTime = fields.precision === 'minute' || fields.precision === 'second';
  if (!hasTime || fields.zone !== undefined) return value;
  const minutes = Math.round((utcMs(fields) - toEpochMs(fields)) / 60_000);
  const size = Math.abs(minutes);
  const clock = [Math.floor(size / 60), size % 60].map((part) => String(part).padStart(2, '0'));
  return `${value}${minutes < 0 ? '-' : '+'}${clock.join(':')}`;
}

/**
 * The moments that a stated time asks for, kept times being moments.
 *
 * @param nowMs what `ap` measures from: R4 recommends a tenth of the gap between now and the date.
 */
export function rangesOf({ prefix, fromMs, toMs }: StatedTime, nowMs: number): TimeRange[] {
  switch (prefix) {
    case 'eq':
      return [{ fromMs, toMs }];
    case 'ne':
      return [
        { fromMs: null, toMs: fromMs },
        { fromMs: toMs, toMs: null },
      ];
    case 'gt':
    case 'sa':
      return [{ fromMs: toMs, toMs: null }];
    case 'ge':
      return [{ fromMs, toMs: null }];
    case 'lt':
    case 'eb':
      return [{ fromMs: null, toMs: fromMs }];
    case 'le':
      return [{ fromMs: null, toMs }];
    case 'ap': {
      const gapMs = nowMs < fromMs ? fromMs - nowMs : Math.max(0, nowMs - toMs);
      const slackMs = Math.round(gapMs / 10);
      return [{ fromMs: fromMs - slackMs, toMs: toMs + slackMs }];
    }
  }
}
