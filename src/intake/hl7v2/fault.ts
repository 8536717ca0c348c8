/** HL7 table 0357, message error condition codes, as far as the gateway gives them. */
export const ERROR_CONDITIONS = {
  '100': 'Segment sequence error',
  '101': 'Required field missing',
  '102': 'Data type error',
  '103': 'Table value not found',
  '104': 'Value too long',
  '198': 'Non-conformant cardinality',
  '199': 'Other HL7 error',
  '200': 'Unsupported message type',
  '201': 'Unsupported event code',
  '202': 'Unsupported processing id',
  '203': 'Unsupported version id',
  '207': 'Application error',
} as const;

export type ErrorCondition = keyof typeof ERROR_CONDITIONS;

/** HL7 table 0516: information, warning, error, fatal. */
export type Severity = 'I' | 'W' | 'E' | 'F';

/**
 * A place in a message, as data type ERL tells it. Everything counts from 1; `occurrence` counts the
 * segments of that name in the whole message, whatever their set ids say.
 */
export interface Hl7Location {
  readonly segment: string;
  readonly occurrence: number;
  readonly field?: number;
  readonly repetition?: number;
  readonly component?: number;
  readonly subcomponent?: number;
}

/** One fault of a message: what the sender is told in an ERR segment. `text` holds no patient data. */
export interface Hl7Fault {
  readonly location: Hl7Location | null;
  readonly code: ErrorCondition;
  readonly severity: Severity;
  readonly text: string;
}
