/** Age at the time of a reading, as exactly as the register's birth date tells it. */
import type { Age, AgePoint } from './age-span.js';
import type { JudgingContext, Moment, Reading } from './shapes.js';

export { isAtLeast, type Age } from './age-span.js';

const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;
const FHIR_DATE = /^(\d{4})(?:-(\d{2})(?:-(\d{2}))?)?$/;

interface CalendarDay {
  readonly year: number;
  readonly month: number;
  readonly day: number;
}

/** First and last day that a FHIR date (YYYY, YYYY-MM, YYYY-MM-DD) can mean; null when it is no such date. */
function daysMeant(date: string): readonly [CalendarDay, CalendarDay] | null {
  const match = FHIR_DATE.exec(date);
  if (match === null) return null;
  const year = Number(match[1]);
  const firstMonth = match[2] === undefined ? 1 : Number(match[2]);
  const lastMonth = match[2] === undefined ? 12 : firstMonth;
  const firstDay = match[3] === undefined ? 1 : Number(match[3]);
  const lastDay = match[3] === undefined ? daysInMonth(year, lastMonth) : firstDay;
  return [
    { year, month: firstMonth, day: firstDay },
    { year, month: lastMonth, day: lastDay },
  ];
}

/** Day 0 of the next month is the last of this one. */
function daysInMonth(year: number, month: number): number {
  return new Date(Date.UTC(year, month, 0)).getUTCDate();
}

/** The calendar day on which it happened, in the zone in which it was told. */
function localDay(at: Moment): CalendarDay {
  const local = new Date(at.epochMs + at.offsetMinutes * MINUTE_MS);
  return {
    year: local.getUTCFullYear(),
    month: local.getUTCMonth() + 1,
    day: local.getUTCDate(),
  };
}

function dayNumber({ year, month, day }: CalendarDay): number {
  return Date.UTC(year, month - 1, day) / DAY_MS;
}

function agePoint(born: CalendarDay, on: CalendarDay): AgePoint {
  const days = dayNumber(on) - dayNumber(born);
  if (days <= 0) return { days: 0, months: 0 };
  const months = (on.year - born.year) * 12 + (on.month - born.month);
  return { days, months: on.day < born.day ? months - 1 : months };
}

/**
 * The age on the local day of a moment.
 * @returns null when the birth date is unknown, is no FHIR date, or lies after that day
 */
export function ageAt(birthDate: string | null, at: Moment): Age | null {
  const born = birthDate === null ? null : daysMeant(birthDate);
  if (born === null) return null;
  const on = localDay(at);
  if (dayNumber(on) < dayNumber(born[0])) return null;
  const oldest = agePoint(born[0], on);
  const exact = dayNumber(born[0]) === dayNumber(born[1]);
  return { oldest, youngest: exact ? oldest : agePoint(born[1], on) };
}

/**
 * Tells the age to judge each reading of a set by. While it is in doubt whose reading it is, the
 * register's birth date says nothing, and the age is unknown. Readings of one moment share the answer.
 */
export function makeAgeTeller(
  { patient }: JudgingContext,
  identityDoubted: boolean,
): (reading: Pick<Reading, 'takenAt'>) => Age | null {
  const birthDate = identityDoubted || patient === null ? null : patient.birthDate;
  if (birthDate === null) return () => null;
  let moment: Moment | null = null;
  let age: Age | null = null;
  return ({ takenAt }) => {
    if (moment?.epochMs !== takenAt.epochMs || moment.offsetMinutes !== takenAt.offsetMinutes) {
      moment = takenAt;
      age = ageAt(birthDate, takenAt);
    }
    return age;
  };
}
