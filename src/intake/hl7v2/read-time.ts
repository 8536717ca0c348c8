import { utcMs, type WallTime, type ZoneClock } from '../../vitals/zone-time.js';

export type TimePrecision = 'year' | 'month' | 'day' | 'hour' | 'minute' | 'second' | 'millisecond';

/** A date or time as it was written, with nothing supposed. Parts that are not there are the first. */
export interface WrittenTime extends WallTime {
  readonly kind: 'written';
  readonly millisecond: number;
  readonly precision: TimePrecision;
  /** Minutes east of UTC; null when no zone is written. */
  readonly offsetMinutes: number | null;
  /** False for `-0000`: the moment is known, the sender's own offset is not (HL7 v2.9 §2A.2.22). */
  readonly offsetKnown: boolean;
}

/** The moment at which the written stretch of time begins. */
export interface ReadTime {
  readonly kind: 'moment';
  readonly epochMs: number;
  readonly offsetMinutes: number;
  readonly offsetKnown: boolean;
  readonly precision: TimePrecision;
  /** Whether the text names its zone itself. */
  readonly zone: 'written' | 'supposed';
}

export interface TimeFault {
  readonly kind: 'fault';
  /**
   * `malformed`: not of the form; `impossible`: no such day, hour or offset; `zoneless`: no zone, and
   * none to suppose; `ambiguous`: the zone's clocks show it twice or never.
   */
  readonly reason: 'malformed' | 'impossible' | 'zoneless' | 'ambiguous';
  /** For a person; holds nothing of the message. */
  readonly text: string;
}

/** What stands for a zone that is not written: the offset of MSH-7, or the zone registered for the sender. */
export type SupposedZone =
  | { readonly kind: 'offset'; readonly minutes: number }
  | { readonly kind: 'zone'; readonly clock: ZoneClock };

const TIME =
  /^(\d{4})(?:(\d\d)(?:(\d\d)(?:(\d\d)(?:(\d\d)(?:(\d\d)(?:\.(\d{1,4}))?)?)?)?)?)?(?:([+-])(\d\d)(\d\d))?$/;

/**
 * Reads the text of a DTM, or the first component of a TS: `YYYY[MM[DD[HH[MM[SS[.S[S[S[S]]]]]]]]][+/-ZZZZ]`
 * (HL7 v2.9.1 §2A.2.22). A tenth of a millisecond is cut off. There is no hour 24 and no second 60.
 */
export function readWrittenTime(text: string): WrittenTime | TimeFault {
  const match = TIME.exec(text);
  if (match === null) return faultOf('malformed', 'not of the form YYYYMMDDHHMMSS.SSSS+ZZZZ');
  const [, years, months = '01', days = '01', hours = '00', minutes = '00', seconds = '00'] = match;
  const wall = {
    year: Number(years),
    month: Number(months),
    day: Number(days),
    hour: Number(hours),
    minute: Number(minutes),
    second: Number(seconds),
  };
  if (!isPossible(wall)) return faultOf('impossible', 'no such day or time of day');
  const offset = offsetIn(match);
  if (Math.abs(offset.offsetMinutes ?? 0) > MAX_OFFSET_MINUTES || Number(match[10] ?? 0) > 59) {
    return faultOf('impossible', 'no place on earth has this offset from UTC');
  }
  const millisecond = Number((match[7] ?? '').padEnd(3, '0').slice(0, 3));
  return { kind: 'written', ...wall, millisecond, precision: precisionOf(match), ...offset };
}

const MAX_OFFSET_MINUTES = 14 * 60;

const PRECISIONS: readonly TimePrecision[] = [
  'year',
  'month',
  'day',
  'hour',
  'minute',
  'second',
  'millisecond',
];

function precisionOf(match: RegExpExecArray): TimePrecision {
  const parts = match.slice(1, 8).filter((part: string | undefined) => part !== undefined);
  return PRECISIONS[parts.length - 1] ?? 'year';
}

function isPossible(wall: WallTime): boolean {
  const date = new Date(utcMs(wall));
  return (
    wall.year > 0 &&
    date.getUTCMonth() === wall.month - 1 &&
    date.getUTCDate() === wall.day &&
    wall.hour < 24 &&
    wall.minute < 60 &&
    wall.second < 60
  );
}

function offsetIn(match: RegExpExecArray): Pick<WrittenTime, 'offsetMinutes' | 'offsetKnown'> {
  const [sign, hours, minutes] = match.slice(8, 11) as (string | undefined)[];
  if (sign === undefined) return { offsetMinutes: null, offsetKnown: false };
  const size = Number(hours) * 60 + Number(minutes);
  if (size === 0) return { offsetMinutes: 0, offsetKnown: sign === '+' };
  return { offsetMinutes: sign === '-' ? -size : size, offsetKnown: true };
}

/**
 * Reads a time as a moment. The server's own zone is never used.
 * @param supposed for a text without a zone; null when nothing is known
 */
export function readTime(text: string, supposed: SupposedZone | null): ReadTime | TimeFault {
  const written = readWrittenTime(text);
  return written.kind === 'fault' ? written : resolveTime(written, supposed);
}

/** As `readTime`, for a time that is taken apart already. */
export function resolveTime(
  written: WrittenTime,
  supposed: SupposedZone | null,
): ReadTime | TimeFault {
  const { offsetMinutes, offsetKnown } = written;
  if (offsetMinutes !== null) {
    return atOffset(written, offsetMinutes, { offsetKnown, zone: 'written' });
  }
  if (supposed === null) return faultOf('zoneless', 'no zone is written, and none is registered');
  const known = { offsetKnown: true, zone: 'supposed' } as const;
  if (supposed.kind === 'offset') return atOffset(written, supposed.minutes, known);
  const start = startIn(supposed.clock, written);
  if (typeof start !== 'number') return start;
  return {
    kind: 'moment',
    epochMs: start + written.millisecond,
    offsetMinutes: Math.round((utcMs(written) - start) / MINUTE_MS),
    precision: written.precision,
    ...known,
  };
}

const MINUTE_MS = 60_000;

/** A day that begins while the clocks are moved is no less that day; a time of day then is in doubt. */
function startIn(clock: ZoneClock, written: WrittenTime): number | TimeFault {
  if (DATES.has(written.precision)) return clock.firstMomentAt(written);
  const [moment, other] = clock.momentsAt(written);
  if (moment === undefined) {
    return faultOf('ambiguous', "no zone is written, and the sender's clocks never show this time");
  }
  if (other === undefined) return moment;
  return faultOf('ambiguous', "no zone is written, and the sender's clocks show this time twice");
}

const DATES: ReadonlySet<TimePrecision> = new Set(['year', 'month', 'day']);

function atOffset(
  written: WrittenTime,
  offsetMinutes: number,
  known: Pick<ReadTime, 'offsetKnown' | 'zone'>,
): ReadTime {
  const epochMs = utcMs(written) + written.millisecond - offsetMinutes * MINUTE_MS;
  return { kind: 'moment', epochMs, offsetMinutes, precision: written.precision, ...known };
}

function faultOf(reason: TimeFault['reason'], text: string): TimeFault {
  return { kind: 'fault', reason, text };
}
