/** What the page and its table for spreadsheets tell of how people write things down. */
import { breathHeaping } from '../../../statistics/breath-heaping.js';
import type { BreathHeaping } from '../../../statistics/breath-heaping.js';
import { lastDigits } from '../../../statistics/last-digits.js';
import type { LastDigits } from '../../../statistics/last-digits.js';
import { countRepeats, followSets } from '../../../statistics/repeated-sets.js';
import type { RepeatedSets } from '../../../statistics/repeated-sets.js';
import { quantile } from '../../../statistics/summary.js';
import { findSetsAsWritten, findWrittenReadings } from '../../../store/written-readings.js';
import type { HabitSearch, WrittenReading } from '../../../store/written-readings.js';
import type { Identifier } from '../../../vitals/identifier.js';
import type { NamePerson } from '../figures/name-people.js';
import type { FiguresServices } from '../figures/services.js';
import type { HabitsQuery } from './habits-query.js';
import {
  INSTRUMENTS,
  INSTRUMENT_FACTS,
  isCountedInPart,
  readFromInstrument,
} from './instruments.js';
import type { Instrument } from './instruments.js';

/** Rows of a table, the largest first. */
const MOST_GROUPS = 100;
const LATE_MINUTES = 30;

/** From taking to arrival, by set. */
export interface Delays {
  readonly sets: number;
  readonly medianMinutes: number;
  readonly ninetyMinutes: number;
  /** The share that came more than half an hour late. */
  readonly lateShare: number;
}

export interface Habits {
  readonly digits: Readonly<Record<Instrument, LastDigits>>;
  readonly breaths: BreathHeaping;
  readonly repeats: RepeatedSets;
  readonly delays: Delays;
  /** Respiratory rates as written, for the drawing. */
  readonly rates: readonly number[];
}

export interface HabitsGroup extends Habits {
  /** As the address names it; empty: those that name none. */
  readonly key: string;
  readonly label: string;
}

export interface HabitsReport {
  readonly query: HabitsQuery;
  readonly overall: Habits;
  readonly groups: readonly HabitsGroup[];
  readonly moreGroups: number;
  readonly onlySinceMs: number | null;
  /** Sets are compared over a shorter time where there are many. */
  readonly setsOnlySinceMs: number | null;
}

interface Written {
  readonly personId: string;
  readonly person: Identifier;
  readonly ward: string | null;
}

type FollowedSets = ReturnType<typeof followWritten>;

function delaysOf(readings: readonly WrittenReading[]): Delays {
  const bySet = new Map(
    readings.map(({ submissionId, receivedAtMs, takenAtMs }) => [
      submissionId,
      (receivedAtMs - takenAtMs) / 60_000,
    ]),
  );
  const minutes = [...bySet.values()];
  const late = minutes.filter((each) => each > LATE_MINUTES).length;
  return {
    sets: minutes.length,
    medianMinutes: quantile(minutes, 0.5),
    ninetyMinutes: quantile(minutes, 0.9),
    lateShare: late / minutes.length,
  };
}

function habitsOf(readings: readonly WrittenReading[], sets: FollowedSets): Habits {
  const numbers: Record<Instrument, number[]> = {
    stethoscope: [],
    'part-minute': [],
    'whole-minute': [],
  };
  for (const reading of readings) {
    const read = readFromInstrument(reading);
    if (read !== null) numbers[read.instrument].push(...read.numbers);
  }
  const digitsOf = (instrument: Instrument): [Instrument, LastDigits] => [
    instrument,
    lastDigits(numbers[instrument], INSTRUMENT_FACTS[instrument].scale),
  ];
  const breaths = readings.filter(
    ({ vital, rate }) => vital === 'respiratory-rate' && rate !== null,
  );
  const rates = breaths.flatMap(({ rate }) => rate ?? []);
  const inPart = breaths.filter((breath) => isCountedInPart(breath)).length;
  return {
    digits: Object.fromEntries(INSTRUMENTS.map(digitsOf)) as Record<Instrument, LastDigits>,
    breaths: breathHeaping(rates, inPart > rates.length / 2 ? 'even-digits' : 'every-digit'),
    repeats: countRepeats(sets),
    delays: delaysOf(readings),
    rates,
  };
}

/** Who repeats a set is whoever wrote the later one, whoever wrote the one before. */
function followWritten(sets: Awaited<ReturnType<typeof findSetsAsWritten>>['rows']) {
  return followSets(sets.map((set) => ({ ...set, patient: String(set.patient) })));
}

function groupBy<T>(items: readonly T[], keyOf: (item: T) => string): ReadonlyMap<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const group = groups.get(keyOf(item));
    if (group === undefined) groups.set(keyOf(item), [item]);
    else group.push(item);
  }
  return groups;
}

/** @throws SearchTooBroad when the database does not come to an end with it in time. */
export async function makeHabitsReport(
  { pool }: FiguresServices,
  query: HabitsQuery,
  namePerson: NamePerson,
): Promise<HabitsReport> {
  const { fromMs, toMs } = query.period;
  const search: HabitSearch = { fromMs, toMs, place: query.ward, personId: query.personId };
  const written = await findWrittenReadings(pool, search);
  const sets = await findSetsAsWritten(pool, { ...search, personId: undefined });
  const ofPerson = ({ set }: FollowedSets[number]): boolean =>
    query.personId === undefined || set.personId === query.personId;
  const followed = followWritten(sets.rows).filter(ofPerson);
  const keyOf = ({ personId, ward }: Written): string =>
    query.by === 'person' ? personId : (ward ?? '');
  const labelOf = (one: Written): string =>
    query.by === 'person' ? namePerson(one) : (one.ward ?? 'not told');
  const setsBy = groupBy(followed, ({ set }) => keyOf(set));
  const groups = [...groupBy(written.rows, keyOf)]
    .sort(([, a], [, b]) => b.length - a.length)
    .map(([key, readings]) => ({
      key,
      label: readings[0] === undefined ? '' : labelOf(readings[0]),
      ...habitsOf(readings, setsBy.get(key) ?? []),
    }));
  return {
    query,
    overall: habitsOf(written.rows, followed),
    groups: groups.slice(0, MOST_GROUPS),
    moreGroups: Math.max(0, groups.length - MOST_GROUPS),
    onlySinceMs: written.onlySinceMs,
    setsOnlySinceMs: sets.onlySinceMs,
  };
}
