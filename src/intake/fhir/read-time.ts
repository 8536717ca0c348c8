/** When it was measured. */
import type { Observation } from 'fhir/r4.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import type { Faults } from './fhir-fault.js';

export interface ReadTime {
  /** RFC 3339 with an offset; absent: a doubt says why. */
  readonly takenAt?: string;
  readonly doubts: readonly ReportDoubt[];
  /** What is known of the time beyond that, in words. */
  readonly notes: readonly string[];
}

/** Common practice, no source: what takes longer is an average over time and no single reading. */
const MAX_PERIOD_MS = 5 * 60_000;
/** No ward device that talks was set before: its clock was never set. */
const CLOCK_UNSET_BEFORE_MS = Date.UTC(2000, 0, 1);

/**
 * A moment to the second with its offset. FHIR R4 (datatypes, dateTime): with hours and minutes a time zone
 * SHALL be given, so that one without was refused with the form of the resource.
 */
export function readMoment(text: string): number | null {
  const epochMs = text.includes('T') ? Date.parse(text) : Number.NaN;
  return Number.isNaN(epochMs) ? null : epochMs;
}

/** The time of a resource whose form was checked. */
export function readTime(observation: Observation, faults: Faults): ReadTime {
  const { effectiveDateTime, effectiveInstant, effectivePeriod } = observation;
  const text = effectiveDateTime ?? effectiveInstant;
  if (effectivePeriod !== undefined) return readPeriod(effectivePeriod, faults);
  if (text === undefined) return { doubts: ['time-missing'], notes: [] };
  if (!text.includes('T')) return { doubts: ['time-imprecise'], notes: [`Time as sent: ${text}`] };
  const path = effectiveDateTime === undefined ? 'effectiveInstant' : 'effectiveDateTime';
  return { ...readPoint(text, path, faults), notes: [] };
}

function readPoint(text: string, path: string, faults: Faults): Omit<ReadTime, 'notes'> {
  const epochMs = readMoment(text);
  if (epochMs === null) {
    // A leap second: nobody can say which of two moments it is kept as.
    faults.refuse(path, 'value', `${path} is no time that can be kept.`, 400);
    return { doubts: [] };
  }
  return { takenAt: text, doubts: epochMs < CLOCK_UNSET_BEFORE_MS ? ['clock-unset'] : [] };
}

function readPeriod(
  { start, end }: NonNullable<Observation['effectivePeriod']>,
  faults: Faults,
): ReadTime {
  const [fromMs, toMs] = [readMoment(start ?? ''), readMoment(end ?? '')];
  if (fromMs === null || toMs === null || end === undefined || start === undefined) {
    const text = 'effectivePeriod must have a start and an end, both with a time.';
    faults.refuse('effectivePeriod', 'required', text);
    return { doubts: [], notes: [] };
  }
  if (toMs < fromMs || toMs - fromMs > MAX_PERIOD_MS) {
    const text = 'effectivePeriod must end after its start, within five minutes.';
    faults.refuse('effectivePeriod', 'business-rule', text);
  }
  const notes = fromMs === toMs ? [] : [`Measured from ${start} to ${end}`];
  return { ...readPoint(end, 'effectivePeriod.end', faults), notes };
}
