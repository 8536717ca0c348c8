/** Numbers that read as another unit than the one sent. They are never converted on a guess. */
import { isAtLeast, type Age } from '../vitals/age.js';
import type { Limits } from '../vitals/limits.js';
import type { Reading } from '../vitals/shapes.js';

export type UnitSlip = 'fahrenheit' | 'celsius' | 'fraction' | 'kilopascal';

/** The unit that the number was probably taken in; null where it reads as the one sent. */
export function findUnitSlip(reading: Reading, age: Age | null, limits: Limits): UnitSlip | null {
  const { vital, values } = reading;
  if (vital === 'body-temperature') return findTemperatureSlip(reading, limits);
  if (vital === 'blood-pressure') {
    return readsAsKilopascal(reading, age, limits) ? 'kilopascal' : null;
  }
  if (vital !== 'oxygen-saturation' && vital !== 'inspired-oxygen') return null;
  const share = values.value?.number;
  if (share === undefined || share <= 0) return null;
  return share <= limits.at('fraction-suspected.up-to') ? 'fraction' : null;
}

function findTemperatureSlip(reading: Reading, limits: Limits): UnitSlip | null {
  const value = reading.values.value?.number;
  if (value === undefined) return null;
  if (reading.sentUnit === '[degF]') {
    const entered = enteredNumber(reading) ?? (value * 9) / 5 + 32;
    return entered >= limits.at('celsius-suspected.from') &&
      entered < limits.at('celsius-suspected.below')
      ? 'celsius'
      : null;
  }
  return value >= limits.at('fahrenheit-suspected.from') &&
    value <= limits.at('fahrenheit-suspected.to')
    ? 'fahrenheit'
    : null;
}

/** The number as it was typed, before it was converted. */
function enteredNumber({ entered }: Reading): number | null {
  return entered !== null && 'value' in entered ? Number(entered.value) : null;
}

/** Both pressures must read so: one alone may be a true one. */
function readsAsKilopascal(
  { values, sentUnit }: Reading,
  age: Age | null,
  limits: Limits,
): boolean {
  const systolic = values.systolic?.number;
  const diastolic = values.diastolic?.number;
  if (systolic === undefined || diastolic === undefined || sentUnit === 'kPa') return false;
  return (
    systolic <= limits.at('kilopascal-suspected.systolic-to') &&
    systolic >= limits.at('kilopascal-suspected.systolic-from') &&
    diastolic >= limits.at('kilopascal-suspected.diastolic-from') &&
    diastolic <= limits.at('kilopascal-suspected.diastolic-to') &&
    isAtLeast(age, limits.at('kilopascal-suspected.from-age'))
  );
}
