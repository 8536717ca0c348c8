/** Numbers that read as another unit than the one sent. They are never converted on a guess. */
import { isAtLeast, type Age } from '../vitals/age.js';
import {
  CELSIUS_AS_FAHRENHEIT,
  FAHRENHEIT_AS_CELSIUS,
  FRACTION_UP_TO,
  KILOPASCAL_AS_MMHG,
} from '../vitals/limits-relations.js';
import type { Reading } from '../vitals/shapes.js';

export type UnitSlip = 'fahrenheit' | 'celsius' | 'fraction' | 'kilopascal';

/** The unit that the number was probably taken in; null where it reads as the one sent. */
export function findUnitSlip(reading: Reading, age: Age | null): UnitSlip | null {
  const { vital, values } = reading;
  if (vital === 'body-temperature') return findTemperatureSlip(reading);
  if (vital === 'blood-pressure') return readsAsKilopascal(reading, age) ? 'kilopascal' : null;
  if (vital !== 'oxygen-saturation' && vital !== 'inspired-oxygen') return null;
  const share = values.value?.number;
  return share !== undefined && share > 0 && share <= FRACTION_UP_TO.at ? 'fraction' : null;
}

function findTemperatureSlip(reading: Reading): UnitSlip | null {
  const value = reading.values.value?.number;
  if (value === undefined) return null;
  if (reading.sentUnit === '[degF]') {
    const { from, below } = CELSIUS_AS_FAHRENHEIT;
    const entered = enteredNumber(reading) ?? (value * 9) / 5 + 32;
    return entered >= from && entered < below ? 'celsius' : null;
  }
  const { from, to } = FAHRENHEIT_AS_CELSIUS;
  return value >= from && value <= to ? 'fahrenheit' : null;
}

/** The number as it was typed, before it was converted. */
function enteredNumber({ entered }: Reading): number | null {
  return entered !== null && 'value' in entered ? Number(entered.value) : null;
}

function readsAsKilopascal(reading: Reading, age: Age | null): boolean {
  const { systolic, diastolic, fromMonths } = KILOPASCAL_AS_MMHG;
  const { values } = reading;
  if (values.systolic === undefined || values.diastolic === undefined) return false;
  return (
    isWithin(values.systolic.number, systolic) &&
    isWithin(values.diastolic.number, diastolic) &&
    reading.sentUnit !== 'kPa' &&
    isAtLeast(age, fromMonths)
  );
}

function isWithin(value: number, range: { readonly from: number; readonly to: number }): boolean {
  return value >= range.from && value <= range.to;
}
