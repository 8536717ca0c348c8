/** What somebody wrote, by the instrument that it was read from: each has digits of its own. */
import type { WrittenReading } from '../../../store/written-readings.js';
import type { Scale } from '../../../statistics/last-digits.js';

export const INSTRUMENTS = ['stethoscope', 'part-minute', 'whole-minute'] as const;
export type Instrument = (typeof INSTRUMENTS)[number];

interface InstrumentFacts {
  readonly name: string;
  readonly scale: Scale;
}

export const INSTRUMENT_FACTS: Readonly<Record<Instrument, InstrumentFacts>> = {
  stethoscope: {
    name: 'Pressure by stethoscope, a mark every 2 mmHg',
    scale: 'even-digits',
  },
  'part-minute': {
    name: 'Pulse counted over 15 or 30 seconds',
    scale: 'even-digits',
  },
  'whole-minute': {
    name: 'Pulse counted over a minute, or typed as a rate',
    scale: 'every-digit',
  },
};

/** Counted over less than a minute and multiplied: over 15 or 30 seconds only even rates can come. */
export function isCountedInPart({ entered }: Pick<WrittenReading, 'entered'>): boolean {
  return entered !== null && 'seconds' in entered && entered.seconds < 60;
}

/** Which instrument, and which numbers; null: none whose digits say something. */
export function readFromInstrument(
  reading: WrittenReading,
): { readonly instrument: Instrument; readonly numbers: readonly number[] } | null {
  const { vital, method, entered, systolic, diastolic, rate } = reading;
  if (vital === 'blood-pressure') {
    // A scale in kilopascal has marks of its own, and what was typed is not what is stored.
    const isInMercury = entered === null || !('unit' in entered) || entered.unit === 'mm[Hg]';
    if (method !== 'auscultation' || !isInMercury) return null;
    const numbers = [systolic, diastolic].filter((number) => number !== null);
    return { instrument: 'stethoscope', numbers };
  }
  if (vital !== 'pulse-rate' || rate === null) return null;
  return { instrument: isCountedInPart(reading) ? 'part-minute' : 'whole-minute', numbers: [rate] };
}
