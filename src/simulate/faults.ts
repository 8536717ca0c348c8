/** What goes wrong on a ward, put into messages on purpose. */
import type { Noise } from '../demo/noise.js';
import type { IncomingReading } from '../vitals/shapes.js';
import type { Sample } from './devices/sample.js';
import type { Measurement } from './measurement.js';
import type { Person } from './person.js';

export const FAULTS = [
  'loose-probe',
  'swapped-patient',
  'wrong-unit',
  'clock-hour-off',
  'duplicate',
  'cut-frame',
] as const;
export type Fault = (typeof FAULTS)[number];

/** What each is, in words for a person. */
export const FAULT_WORDS: Readonly<Record<Fault, string>> = {
  'loose-probe': 'the device doubts its signal, or has none',
  'swapped-patient': 'the number of one patient with the name and birth date of another',
  'wrong-unit': 'a number in one unit, labelled with another',
  'clock-hour-off': 'the clock of the device is an hour ahead or behind',
  duplicate: 'the same message twice',
  'cut-frame': 'half of a message, then the whole of it again',
};

const HOUR_MS = 60 * 60 * 1000;
const MMHG_PER_KILOPASCAL = 7.50062;

/** Null: nothing goes wrong with this message. */
export function drawFault(noise: Noise, share: number, kinds: readonly Fault[]): Fault | null {
  if (noise.between(0, 1) >= share) return null;
  return kinds[Math.floor(noise.between(0, kinds.length))] ?? null;
}

/**
 * The measurement with the fault in it; what goes wrong on the way (duplicate, cut frame) leaves it as it is.
 * @param stranger somebody else, with another birth date
 */
export function spoil(
  measurement: Measurement,
  fault: Fault | null,
  noise: Noise,
  stranger: Person,
): Measurement {
  switch (fault) {
    case 'loose-probe':
      return loosenProbe(measurement, noise);
    case 'swapped-patient':
      return { ...measurement, claimed: withNameOf(measurement.claimed, stranger) };
    case 'wrong-unit':
      return {
        ...measurement,
        samples: measurement.samples.map((sample) => ({
          ...sample,
          reading: mislabel(sample.reading),
        })),
      };
    case 'clock-hour-off':
      return shiftClock(measurement, noise.between(-1, 1) < 0 ? -HOUR_MS : HOUR_MS);
    case 'duplicate':
    case 'cut-frame':
    case null:
      return measurement;
  }
}

/** Whether the reading comes from the probe that a monitor has; of other devices everything does. */
function isOfProbe({ device }: Measurement, { reading }: Sample): boolean {
  return device.kind !== 'monitor' || reading.method === 'pulse-oximetry';
}

/** A set in JSON has no word for a doubtful signal: there the device has none. */
function loosenProbe(measurement: Measurement, noise: Noise): Measurement {
  const doubted = measurement.device.speaks !== 'json' && noise.between(0, 1) < 0.5;
  const signal = doubted ? 'questionable' : 'lost';
  return {
    ...measurement,
    samples: measurement.samples.map((sample) =>
      isOfProbe(measurement, sample)
        ? { ...sample, signal, ...(sample.perfusion !== undefined && { perfusion: '0.1' }) }
        : sample,
    ),
  };
}

function withNameOf(person: Person, other: Person): Person {
  const { familyName, givenName, birthDate, gender } = other;
  return {
    ...person,
    ...(familyName !== undefined && { familyName }),
    ...(givenName !== undefined && { givenName }),
    ...(birthDate !== undefined && { birthDate }),
    ...(gender !== undefined && { gender }),
  };
}

function mislabel(reading: IncomingReading): IncomingReading {
  const { vital, value, unit } = reading;
  const number = Number(value);
  if (vital === 'body-temperature') {
    const other = unit === 'Cel' ? number * 1.8 + 32 : (number - 32) / 1.8;
    return { ...reading, value: other.toFixed(1) };
  }
  if (vital === 'oxygen-saturation') return { ...reading, value: (number / 100).toFixed(2) };
  return vital === 'blood-pressure' ? inKilopascal(reading) : reading;
}

function inKilopascal(reading: IncomingReading): IncomingReading {
  const part = (mmHg: IncomingReading['systolic']): string =>
    (Number(mmHg) / MMHG_PER_KILOPASCAL).toFixed(1);
  const { systolic, diastolic, mean } = reading;
  return { ...reading, systolic: part(systolic), diastolic: part(diastolic), mean: part(mean) };
}

/** What sends for the device keeps the true time. */
function shiftClock(measurement: Measurement, byMs: number): Measurement {
  const { takenAt } = measurement;
  return { ...measurement, takenAt: { ...takenAt, epochMs: takenAt.epochMs + byMs } };
}
