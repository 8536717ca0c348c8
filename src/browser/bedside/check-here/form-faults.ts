/**
 * What the page lets somebody type and the gateway's contract does not take. The rest of the contract is
 * kept by how the page makes its sets.
 */
import type { Fault } from '../../../vitals/incoming.js';
import { PARTS } from '../../../vitals/words.js';
import type { SetJson } from '../door.js';

type PageReading = SetJson['readings'][number];

/** As `number` in `schemas/reading.schema.json`. */
const NUMBER = /^-?(0|[1-9][0-9]{0,5})(\.[0-9]{1,6})?$/;
const MILLION = 1_000_000;
const MAX_COUNT = 1000;
const LONGEST_NOTE = 500;

/** Circumstances in numbers: from, to; the first of them above zero. */
const RANGES = [
  ['armCircumferenceCm', 0, 200],
  ['inflatedTo', 0, 400],
  ['minutesSinceHotDrink', 0, 1440],
  ['minutesSinceColdDrink', 0, 1440],
] as const;

/** None: the gateway would read this set. */
export function formFaults({ readings }: SetJson): readonly Fault[] {
  if (readings.length === 0)
    return [{ pointer: '/readings', message: 'must hold at least one reading' }];
  return readings.flatMap((reading, place) =>
    [...numberFaults(reading), ...countFaults(reading), ...rangeFaults(reading)].map((fault) => ({
      ...fault,
      pointer: `/readings/${place}${fault.pointer}`,
    })),
  );
}

function isNumber(written: number | string): boolean {
  if (typeof written === 'string') return NUMBER.test(written);
  return Number.isFinite(written) && Math.abs(written) < MILLION;
}

function numberFaults(reading: PageReading): Fault[] {
  const message = 'must be a number such as 36.5, with at most six decimals';
  return PARTS.flatMap((part) => {
    const written = reading[part];
    return written === undefined || isNumber(written) ? [] : [{ pointer: `/${part}`, message }];
  });
}

function countFaults({ count, note }: PageReading): Fault[] {
  const faults: Fault[] = [];
  if (count !== undefined && !(Number.isInteger(count) && count >= 0 && count <= MAX_COUNT)) {
    faults.push({ pointer: '/count', message: `must be a whole number from 0 to ${MAX_COUNT}` });
  }
  // A character outside of the first plane is one, not two (JSON Schema 2020-12, 6.3.1).
  if (note !== undefined && Array.from(note).length > LONGEST_NOTE) {
    const message = `must not be longer than ${LONGEST_NOTE} characters`;
    faults.push({ pointer: '/note', message });
  }
  return faults;
}

function rangeFaults(reading: PageReading): Fault[] {
  return RANGES.flatMap(([member, from, to]) => {
    const told = reading[member];
    if (told === undefined) return [];
    const inside = told <= to && (member === 'armCircumferenceCm' ? told > from : told >= from);
    return inside ? [] : [{ pointer: `/${member}`, message: `must be from ${from} to ${to}` }];
  });
}
