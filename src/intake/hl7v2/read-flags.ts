/** What a row says of its value beside the value: OBX-8, OBX-11, OBX-17 (IHE Devices TF-2, B.8.5). */
import type { SignalDoubt } from '../../vitals/device-report.js';
import type { Method } from '../../vitals/words.js';
import type { CodedSign } from '../../vitals/coded-sign.js';
import type { AmendingStatus } from './delivery.js';
import type { Hl7Field, Hl7Segment } from './segment.js';

/** Every code of a coded field: first and alternate code of each repetition. */
function codesIn(field: Hl7Field): readonly string[] {
  return field.repetitions.flatMap((repetition) =>
    [1, 4].map((component) => repetition.component(component).text.trim().toUpperCase()),
  );
}

/** OBX-8 as far as it judges the value. */
export interface RowFlags {
  readonly signal: readonly SignalDoubt[];
  /** A test or a demonstration, whatever MSH-11 says. */
  readonly test: boolean;
  /** There is no value, and why, in words. */
  readonly absent: string | null;
}

const NO_FLAGS: RowFlags = { signal: [], test: false, absent: null };

const SIGNALS: ReadonlyMap<string, SignalDoubt> = new Map([
  ['QUES', 'questionable'],
  ['CAL', 'calibrating'],
  ['EARLY', 'early'],
]);

/** IHE Devices TF-2, tables B.8.5-5 to -9, and null flavours. */
const ABSENCES: ReadonlyMap<string, string> = new Map([
  ['INV', 'the device calls the value invalid (INV)'],
  ['NAV', 'the value is not available (NAV)'],
  ['BUSY', 'the device is still measuring (BUSY)'],
  ['OFF', 'the sensor is switched off (OFF)'],
  ['MSK', 'the value is masked (MSK)'],
  ['NI', 'no information (NI)'],
  ['NA', 'not applicable (NA)'],
  ['OTH', 'something other than a number was found (OTH)'],
  ['NAN', 'not a number (NAN)'],
  ['PINF', 'above all that can be measured (PINF)'],
  ['NINF', 'below all that can be measured (NINF)'],
]);

/** Reads OBX-8. Interpretations and alarm states are the device's wording and change nothing. */
export function readFlags(obx: Hl7Segment): RowFlags {
  const field = obx.field(8);
  if (field.isEmpty) return NO_FLAGS;
  const codes = codesIn(field);
  const absent = codes.map((code) => ABSENCES.get(code)).find((words) => words !== undefined);
  return {
    signal: [...SIGNALS].filter(([code]) => codes.includes(code)).map(([, doubt]) => doubt),
    test: codes.includes('TEST') || codes.includes('DEMO'),
    absent: absent ?? null,
  };
}

/** OBX-11 (HL7 table 0085). */
export type RowStatus =
  | { readonly kind: 'standing'; readonly reviewed: boolean }
  | { readonly kind: 'amending'; readonly status: AmendingStatus }
  /** X: no result can be got. */
  | { readonly kind: 'no-result' }
  | { readonly kind: 'unclear' };

/**
 * R is what devices send of every good value: it counts as reviewed where an operator is named and a
 * person stands by the source's readings.
 * @param operated an operator is named
 */
export function readStatus(obx: Hl7Segment, operated: boolean, attended: boolean): RowStatus {
  const status = obx.text(11).trim();
  switch (status) {
    case 'F':
      return { kind: 'standing', reviewed: true };
    case 'R':
      return { kind: 'standing', reviewed: operated && attended };
    case 'P':
    case 'S':
      return { kind: 'standing', reviewed: false };
    case 'C':
    case 'D':
    case 'W':
    case 'U':
      return { kind: 'amending', status };
    case 'X':
      return { kind: 'no-result' };
    default:
      return { kind: 'unclear' };
  }
}

/** Whether a row deletes, disowns or settles a value that was sent before, and needs none of its own. */
export function speaksOfEarlier(obx: Hl7Segment): boolean {
  return ['D', 'W', 'U'].includes(obx.text(11).trim());
}

/** OBX-17: how the value came about; null: as the device measures. */
export function readNature(obx: Hl7Segment): 'manual' | 'setting' | null {
  const field = obx.field(17);
  if (field.isEmpty) return null;
  const codes = codesIn(field);
  if (codes.includes('ASET') || codes.includes('MSET')) return 'setting';
  return codes.includes('MMEAS') ? 'manual' : null;
}

/** The method of a person, where the code's own does not exclude one (IHE Devices TF-2, MMEAS). */
export function manualMethod({ vital, method }: CodedSign): Method | undefined {
  if (vital === 'respiratory-rate') return method ?? 'counted';
  if (method !== undefined && method !== 'oscillometry') return method;
  if (vital === 'blood-pressure') return 'auscultation';
  return vital === 'pulse-rate' ? 'palpation' : method;
}
