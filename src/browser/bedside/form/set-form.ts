/** What is being entered at one bed. Nothing in it is assumed: what nobody said is null. */
import type {
  AbsentReason,
  ConsciousnessCode,
  CuffSize,
  EnteredUnit,
  Method,
  Position,
  Side,
  Site,
} from '../../../vitals/words.js';
import type { FoundPatient, SetJson } from '../door.js';
import type { CountSeconds } from './count.js';
import type { FieldName, StepId } from './steps.js';

/** The quiet reminders around a set; they are not sent. */
export const REMINDERS = ['explained', 'hands-before', 'gloves', 'hands-after'] as const;
export type Reminder = (typeof REMINDERS)[number];

/** Confirmed by hand against wristband or word. */
export interface ChosenPatient {
  readonly claimed: SetJson['patient'];
  /** Null: the register does not know the number, or could not be asked. */
  readonly found: FoundPatient | null;
  readonly unregistered: 'unknown' | 'not-asked' | null;
}

/** What is told by one tap and offered again. */
export interface Choices {
  readonly method: Method | null;
  readonly site: Site | null;
  readonly side: Side | null;
  readonly cuffSize: CuffSize | null;
}

export const NO_CHOICES: Choices = { method: null, site: null, side: null, cuffSize: null };

/** One act of measuring. A second one of the same step is a repeat; both are kept and sent. */
export interface Entry extends Choices {
  readonly id: number;
  readonly step: StepId;
  /** When it was measured (RFC 3339); null: nothing is entered yet. */
  readonly takenAt: string | null;
  readonly counted: { readonly count: number; readonly seconds: CountSeconds } | null;
  /** As typed. */
  readonly numbers: Readonly<Partial<Record<FieldName, string>>>;
  readonly units: Readonly<Partial<Record<FieldName, EnteredUnit>>>;
  readonly code: ConsciousnessCode | null;
  readonly absent: AbsentReason | null;
  readonly regular: boolean | null;
  readonly armAtHeartLevel: boolean | null;
  /** In cm, as typed. */
  readonly armCircumference: string;
  /** Minutes since a hot or cold drink, before a temperature under the tongue. */
  readonly sinceHotDrink: number | null;
  readonly sinceColdDrink: number | null;
  /** Measured again by this person, who found the same. */
  readonly confirmed: boolean;
  readonly note: string;
}

export interface SetForm {
  readonly setId: string;
  readonly patient: ChosenPatient;
  readonly position: Position | null;
  readonly reminded: readonly Reminder[];
  readonly entries: readonly Entry[];
  readonly nextEntry: number;
}
