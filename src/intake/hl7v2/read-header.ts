import type {
  AcknowledgeMode,
  AcknowledgeWhen,
  ClaimedProfile,
  EchoedFields,
  HierarchicDesignator,
  Hl7Header,
} from './header.js';
import type { Hl7Message } from './parse-message.js';
import { readWrittenTime, type SupposedZone } from './read-time.js';
import type { Hl7Field, Hl7Segment } from './segment.js';

/** Reads an MSH segment (HL7 v2.9.1 §2.13.9) and judges nothing in it. */
export function readHeader(segment: Hl7Segment, message: Hl7Message): Hl7Header {
  const sentText = segment.text(7);
  return {
    application: designator(segment.field(3)),
    facility: designator(segment.field(4)),
    sentText,
    zone: zoneOf(sentText),
    messageType: segment.text(9).trim(),
    event: segment.text(9, 2).trim(),
    controlIdBytes: segment.field(10).rawBytes,
    processingId: segment.text(11).trim(),
    version: segment.text(12).trim(),
    mode: modeOf(segment),
    country: segment.text(17),
    profiles: segment.field(21).repetitions.map((profile): ClaimedProfile => ({
      name: profile.component(1).text,
      oid: profile.component(3).text.trim(),
    })),
    echo: echoOf(segment, message),
  };
}

function designator(field: Hl7Field): HierarchicDesignator {
  const hd = field.repetition(1);
  return {
    namespace: hd.component(1).text,
    universalId: hd.component(2).text,
    universalIdType: hd.component(3).text,
  };
}

function zoneOf(sentText: string): SupposedZone | null {
  const sent = readWrittenTime(sentText);
  if (sent.kind === 'fault' || sent.offsetMinutes === null) return null;
  return { kind: 'offset', minutes: sent.offsetMinutes };
}

/** Some senders write the delete indicator where they mean nothing. */
const EMPTY: ReadonlySet<string> = new Set(['', '""']);
const CONDITIONS: ReadonlySet<string> = new Set(['AL', 'NE', 'ER', 'SU']);

/** Whether MSH-15 or -16 holds what table 0155 knows, or nothing. */
export function isCondition(text: string): boolean {
  return EMPTY.has(text) || CONDITIONS.has(text);
}

function modeOf(segment: Hl7Segment): AcknowledgeMode {
  const accept = conditionIn(segment.text(15));
  const application = conditionIn(segment.text(16));
  if (accept === null && application === null) return { kind: 'original' };
  return { kind: 'enhanced', accept: accept ?? 'NE', application: application ?? 'NE' };
}

/** A word that the table does not know is read as always: an answer too many does less harm than none. */
function conditionIn(text: string): AcknowledgeWhen | null {
  if (EMPTY.has(text)) return null;
  return CONDITIONS.has(text) ? (text as AcknowledgeWhen) : 'AL';
}

const EVENT = /^[A-Za-z0-9]{1,10}$/;

function echoOf(segment: Hl7Segment, message: Hl7Message): EchoedFields {
  const raw = (field: number) => segment.field(field).rawBytes.toString('latin1');
  const event = segment.text(9, 2).trim();
  return {
    separators: message.separators,
    application: raw(3),
    facility: raw(4),
    receivingApplication: raw(5),
    receivingFacility: raw(6),
    event: EVENT.test(event) ? event : '',
    controlId: raw(10),
    processingId: raw(11),
    version: raw(12),
    charset: message.charset === null ? '' : raw(18),
  };
}
