import { encodeEscapes } from './escapes.js';
import { ERROR_CONDITIONS, type Hl7Fault, type Hl7Location } from './fault.js';
import type { EchoedFields } from './header.js';
import { encodingCharacters, type Separators } from './separators.js';

/** HL7 table 0008. */
export type AcknowledgementCode = 'AA' | 'AE' | 'AR' | 'CA' | 'CE' | 'CR';

/** What an answer says of its own, beside what it repeats. */
export interface AnswerParts {
  readonly code: AcknowledgementCode;
  readonly exchange: 'reply' | 'own';
  readonly controlId: string;
  /** DTM with zone. */
  readonly time: string;
  /** Stands where the sender named no receiver. */
  readonly application: string;
  readonly faults: readonly Hl7Fault[];
}

/**
 * Writes a general acknowledgement (ACK, HL7 v2.9.1 §2.12.1): MSH, MSA and, when it is negative, ERR.
 * @returns segments with their CR, a character a byte; the gateway's own words are ASCII
 */
export function writeAnswer(echo: EchoedFields, parts: AnswerParts): string {
  const lines = [headerLine(echo, parts), ...answerLines(echo, parts.code, parts.faults)];
  return lines.map((line) => `${line}\r`).join('');
}

function headerLine(echo: EchoedFields, parts: AnswerParts): string {
  const { separators } = echo;
  const own = (text: string) => encodeEscapes(text, separators);
  const type = echo.event === '' ? ['ACK'] : ['ACK', echo.event, 'ACK'];
  // Sent as the first of an exchange it must say that it wants no answer; as a reply it says nothing.
  const conditions = parts.exchange === 'own' ? ['NE', 'NE'] : ['', ''];
  return join(separators.field, [
    'MSH',
    encodingCharacters(separators),
    echo.receivingApplication === '' ? own(parts.application) : echo.receivingApplication,
    echo.receivingFacility,
    echo.application,
    echo.facility,
    own(parts.time),
    '',
    type.join(separators.component),
    own(parts.controlId),
    echo.processingId === '' ? 'P' : echo.processingId,
    echo.version === '' ? '2.6' : echo.version,
    '',
    '',
    ...conditions,
    '',
    echo.charset,
  ]);
}

/** MSA, and for a negative answer what was wrong: a sender may take any ERR for a failure. */
function answerLines(
  echo: EchoedFields,
  code: AcknowledgementCode,
  faults: readonly Hl7Fault[],
): readonly string[] {
  const { separators } = echo;
  const answer = ['MSA', code, echo.controlId];
  if (code === 'AA' || code === 'CA') return [join(separators.field, answer)];
  const told = [...faults].sort(byWeight).slice(0, MAX_ERRORS);
  if (!BEFORE_ERR_2.test(echo.version)) {
    return [join(separators.field, answer), ...told.map((fault) => errorLine(fault, separators))];
  }
  const text = encodeEscapes(told[0]?.text ?? '', separators);
  return [join(separators.field, [...answer, text]), oldErrorLine(told, separators)];
}

const MAX_ERRORS = 20;
const WEIGHTS = { F: 0, E: 1, W: 2, I: 3 };

function byWeight(one: Hl7Fault, other: Hl7Fault): number {
  return WEIGHTS[one.severity] - WEIGHTS[other.severity];
}

/** ERR-2 to ERR-12 came with v2.5; before, ERR-1 had place and code, and MSA-3 the text (from memory). */
const BEFORE_ERR_2 = /^2\.[0-4](?![0-9])/;

function errorLine(fault: Hl7Fault, separators: Separators): string {
  return join(separators.field, [
    'ERR',
    '',
    fault.location === null ? '' : join(separators.component, placeOf(fault.location)),
    codeOf(fault, separators, separators.component),
    fault.severity,
    '',
    '',
    '',
    encodeEscapes(fault.text, separators),
  ]);
}

function oldErrorLine(faults: readonly Hl7Fault[], separators: Separators): string {
  const entries = faults.map((fault) => {
    const [segment = '', occurrence = '', field = ''] =
      fault.location === null ? [] : placeOf(fault.location);
    const code = codeOf(fault, separators, separators.subcomponent);
    return [segment, occurrence, field, code].join(separators.component);
  });
  return join(separators.field, ['ERR', entries.join(separators.repetition)]);
}

function codeOf(fault: Hl7Fault, separators: Separators, between: string): string {
  const parts = [fault.code, ERROR_CONDITIONS[fault.code], 'HL70357'];
  return parts.map((part) => encodeEscapes(part, separators)).join(between);
}

/** The components of ERL. */
function placeOf(location: Hl7Location): readonly string[] {
  const { segment, occurrence, field, repetition, component, subcomponent } = location;
  return [segment, occurrence, field, repetition, component, subcomponent].map((part) =>
    part === undefined ? '' : String(part),
  );
}

/** Joins parts, without the empty ones at the end. */
function join(separator: string, parts: readonly string[]): string {
  let count = parts.length;
  while (count > 0 && parts[count - 1] === '') count -= 1;
  return parts.slice(0, count).join(separator);
}
