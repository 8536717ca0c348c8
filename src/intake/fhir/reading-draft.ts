/** A reading while its references still have to be followed. */
import type { CodedSign } from '../../vitals/coded-sign.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import type { IncomingReading } from '../../vitals/shapes.js';
import type { Method, Part, Position } from '../../vitals/words.js';
import type { BodyPlace } from '../../vitals/codes.js';

type Value = Pick<
  IncomingReading,
  'value' | 'systolic' | 'diastolic' | 'mean' | 'unit' | 'code' | 'absent'
>;

export interface ReadingDraft {
  readonly vital: CodedSign['vital'];
  /** The one part of a pressure that stands for itself. */
  readonly part?: Exclude<Part, 'value'>;
  readonly method?: Method;
  readonly place: BodyPlace;
  readonly position?: Position;
  readonly value: Value;
  readonly asSent?: string;
  readonly doubts: readonly ReportDoubt[];
  readonly notes: readonly string[];
}

/** What a value is read as. */
export interface ReadValue {
  /** Null: there is none, for a reason that says nothing of the patient. */
  readonly value: Value | null;
  readonly asSent?: string;
  readonly doubts: readonly ReportDoubt[];
  /** Why there is none, in a word. */
  readonly reason?: string;
}
