/**
 * Rows that carry a status in words or bits: of a measurement, an oximeter, a cuff (IEEE 11073-10101;
 * bits by name as IHE Devices TF-2 writes BITS types: `1^sensor-displaced(2)`).
 */
import type { CodedSign, ContextKind } from '../../vitals/coded-sign.js';
import type { SignalDoubt } from '../../vitals/device-report.js';
import { parentOf, type PlacedRow } from './containment.js';
import type { Hl7Field } from './segment.js';

/** What a status row says of the readings beside and below it. */
export interface StatusMark {
  /** `measured`: that measurement whose facet the row is. */
  readonly of: 'measured' | 'oximetry' | 'cuff';
  readonly signal: readonly SignalDoubt[];
  readonly test: boolean;
  readonly invalid: boolean;
}

const SUBJECTS: ReadonlyMap<ContextKind, StatusMark['of']> = new Map([
  ['measurement-status', 'measured'],
  ['oximeter-status', 'oximetry'],
  ['cuff-status', 'cuff'],
]);

const MAX_BITS = 32;

/** Reads a status row; null: it is none, or says nothing against the value. */
export function readStatusRow(context: ContextKind, value: Hl7Field): StatusMark | null {
  const of = SUBJECTS.get(context);
  const bits = setBits(value);
  if (of === undefined || bits.length === 0) return null;
  // A bit of an oximeter or a cuff is a complaint, whatever it is called.
  if (of !== 'measured') return { of, signal: ['questionable'], test: false, invalid: false };
  const says = (word: string) => bits.some((bit) => bit.includes(word));
  const signal: SignalDoubt[] = [];
  if (says('questionable')) signal.push('questionable');
  if (says('calibration')) signal.push('calibrating');
  if (says('early')) signal.push('early');
  const test = says('test-data') || says('demo-data');
  const invalid = says('invalid');
  return signal.length > 0 || test || invalid ? { of, signal, test, invalid } : null;
}

/** The names of the bits that are set; a bare number that is not 0 counts as one without a name. */
function setBits(value: Hl7Field): readonly string[] {
  const bits: string[] = [];
  for (const repetition of value.repetitions.slice(0, MAX_BITS)) {
    const [state = '', name = ''] = [1, 2].map((n) => repetition.component(n).text.trim());
    if (/^0*$/.test(state) && (state !== '' || name === '')) continue;
    bits.push((name === '' ? state : name).toLowerCase());
  }
  return bits;
}

/** The marks of one order, found by where they stand. */
export class StatusMarks {
  readonly #byParent = new Map<string, StatusMark[]>();

  add(row: PlacedRow, mark: StatusMark): void {
    const key = parentOf(row.path);
    const there = this.#byParent.get(key);
    if (there === undefined) this.#byParent.set(key, [mark]);
    else if (!there.some((other) => sameMark(other, mark))) there.push(mark);
  }

  /**
   * What is said of a reading: by its own facets, and about an oximeter or a cuff also by its siblings
   * and those of what contains it.
   */
  of(row: PlacedRow, sign: CodedSign): readonly StatusMark[] {
    if (this.#byParent.size === 0) return [];
    const { key, containers } = row.path;
    const marks = key === '' ? [] : (this.#byParent.get(key) ?? []);
    const around = [...containers, '']
      .flatMap((key) => this.#byParent.get(key) ?? [])
      .filter(({ of }) => isAbout(of, sign));
    return [...marks, ...around];
  }
}

function isAbout(of: StatusMark['of'], { vital, method }: CodedSign): boolean {
  if (of === 'oximetry') return method === 'pulse-oximetry' || vital === 'oxygen-saturation';
  return of === 'cuff' && vital === 'blood-pressure' && method !== 'invasive';
}

/** Marks are few kinds; a message repeats them. */
function sameMark(one: StatusMark, other: StatusMark): boolean {
  return (
    one.of === other.of &&
    one.test === other.test &&
    one.invalid === other.invalid &&
    one.signal.join() === other.signal.join()
  );
}
