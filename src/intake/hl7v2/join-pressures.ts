import type { ReportDoubt } from '../../vitals/device-report.js';
import { PARTS } from '../../vitals/words.js';
import { parentOf } from './containment.js';
import type { RowReading } from './row-reading.js';

type Rows = readonly [RowReading, ...RowReading[]];

/** Rows that make one reading: one row, or the parts of one pressure, systolic first. */
export interface JoinedReading {
  readonly rows: Rows;
  readonly doubts: readonly ReportDoubt[];
}

/**
 * Puts the parts of each pressure together: systolic, diastolic and mean of one parent, device, time, method
 * and place are one measurement, and what is doubtful in one part is so in all. Parts that could belong to
 * more than one measurement are not paired: each stays alone, in doubt.
 * @param readings of one order; one that cannot be read stays alone, so that it costs its own part only
 */
export function joinPressures(readings: readonly RowReading[]): readonly JoinedReading[] {
  const told = withoutRepeats(readings);
  const isPart = ({ sign, doubts }: RowReading) =>
    sign.part !== undefined && !doubts.includes('value-unreadable');
  const measurements = groupBy(told.filter(isPart), measurementKey);
  return [
    ...told.filter((reading) => !isPart(reading)).map((reading) => joinedOf([reading])),
    ...measurements.flatMap(joinParts),
  ];
}

function measurementKey({ row, status, sign, place, devices, time, recorder }: RowReading): string {
  return JSON.stringify([
    parentOf(row.path),
    status,
    sign.method,
    place.site,
    place.side,
    devices,
    time.epochMs ?? time.asSent,
    recorder,
  ]);
}

/** Rows of one measurement, if they are no more than its parts and of one unit. */
function joinParts(parts: Rows): readonly JoinedReading[] {
  const bySubId = hasEachPartOnce(parts) ? [parts] : groupBySubId(parts);
  if (!bySubId.every(hasEachPartOnce)) return parts.map((part) => doubted(part, 'values-conflict'));
  return bySubId.flatMap((measurement) =>
    new Set(measurement.map(({ unit }) => unit)).size === 1
      ? [joinedOf(measurement)]
      : measurement.map((part) => doubted(part, 'codes-disagree')),
  );
}

function hasEachPartOnce(parts: Rows): boolean {
  return new Set(parts.map(({ sign }) => sign.part)).size === parts.length;
}

/** A plain OBX-4 numbers groups of rows (HL7 v2.9.1 §7.4.2.4); a path of a device does not. */
function groupBySubId(parts: Rows): readonly Rows[] {
  const isPlain = parts.every(
    ({ row: { path } }) => path.containers.length === 0 && path.text !== '',
  );
  return isPlain ? groupBy(parts, ({ row }) => row.path.text) : [parts];
}

function joinedOf(parts: Rows): JoinedReading {
  // Sorting keeps the number of rows.
  const rows = [...parts].sort((one, other) => partOf(one) - partOf(other)) as unknown as Rows;
  return { rows, doubts: [...new Set(rows.flatMap(({ doubts }) => doubts))] };
}

function partOf({ sign }: RowReading): number {
  return PARTS.indexOf(sign.part ?? 'value');
}

function doubted(reading: RowReading, doubt: ReportDoubt): JoinedReading {
  return { rows: [reading], doubts: [...new Set([...reading.doubts, doubt])] };
}

/**
 * One path tells one thing: a second row that says the same again is taken with the first, and rows that say
 * different things are all in doubt.
 */
function withoutRepeats(readings: readonly RowReading[]): readonly RowReading[] {
  const samePath = groupBy(readings, ({ row: { path } }) => path.key || path.text);
  const samePlace = samePath.flatMap((rows) =>
    rows.length === 1 ? [rows] : groupBy(rows, placeKey),
  );
  return samePlace.flatMap((there) => {
    if (there.length === 1) return there;
    const statements = groupBy(there, statementKey).map(mergeStatement);
    return statements.length === 1
      ? statements
      : statements.map((one): RowReading => ({
          ...one,
          doubts: [...one.doubts, 'values-conflict'],
        }));
  });
}

/** Without a path the code alone tells things apart. */
function placeKey({ sign, time, status, devices, place }: RowReading): string {
  return JSON.stringify([
    sign,
    place.site,
    place.side,
    time.epochMs ?? time.asSent,
    status,
    devices,
  ]);
}

function statementKey({ value, unit, code, asSent, recorder }: RowReading): string {
  return JSON.stringify([value === undefined ? asSent : Number(value), unit, code, recorder]);
}

/** What is doubtful in one of equal rows stays so. */
function mergeStatement(rows: Rows): RowReading {
  const [first] = rows;
  return {
    ...first,
    reviewed: rows.every(({ reviewed }) => reviewed),
    doubts: [...new Set(rows.flatMap(({ doubts }) => doubts))],
    signal: [...new Set(rows.flatMap(({ signal }) => signal))],
  };
}

function groupBy(readings: readonly RowReading[], keyOf: (reading: RowReading) => string): Rows[] {
  const groups = new Map<string, [RowReading, ...RowReading[]]>();
  for (const reading of readings) {
    const key = keyOf(reading);
    const there = groups.get(key);
    if (there === undefined) groups.set(key, [reading]);
    else there.push(reading);
  }
  return [...groups.values()];
}
