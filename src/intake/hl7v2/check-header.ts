import type { ErrorCondition, Hl7Fault, Hl7Location } from './fault.js';
import type { Hl7Header, MessagePurpose } from './header.js';
import type { Hl7Message } from './parse-message.js';
import { isCondition, readHeader } from './read-header.js';
import { readWrittenTime } from './read-time.js';
import type { Hl7Segment } from './segment.js';

/** Whether a message may come in, by its MSH alone. */
export type HeaderCheck =
  | {
      readonly kind: 'accepted';
      readonly header: Hl7Header;
      readonly purpose: MessagePurpose;
      readonly warnings: readonly Hl7Fault[];
    }
  | Refusal
  /** It answers a message of ours, and is never answered. */
  | { readonly kind: 'acknowledgement'; readonly header: Hl7Header }
  /** There is no MSH: nothing tells whom to answer, or what. */
  | { readonly kind: 'noHeader'; readonly faults: readonly Hl7Fault[] };

export interface Refusal {
  readonly kind: 'refused';
  readonly header: Hl7Header;
  /**
   * `reject` (AR, CR): message type, processing id or version are not taken, or cannot be told because
   * the separators cannot. `error` (AE, CE): anything else (HL7 v2.9.1 §2.8.2.1, §2.8.3.2).
   */
  readonly as: 'reject' | 'error';
  readonly faults: readonly Hl7Fault[];
}

const VERSIONS: ReadonlySet<string> = new Set(
  '2.3 2.3.1 2.3.2 2.4 2.5 2.5.1 2.6 2.7 2.7.1 2.8 2.8.1 2.8.2 2.9 2.9.1'.split(' '),
);

const EVENTS: ReadonlyMap<string, ReadonlySet<string>> = new Map([
  ['ORU', new Set(['R01'])],
  ['ADT', new Set(['A01', 'A02', 'A03', 'A04', 'A08', 'A11', 'A12', 'A13', 'A40'])],
]);

const PROCESSING_IDS: ReadonlySet<string> = new Set(['P', 'D', 'T']);

/** Length of MSH-10 in HL7 v2.9.1 §2.13.9, taken of every version; the older ones allow less. */
const MAX_CONTROL_ID_CHARACTERS = 199;

/** IHE Devices, Point-of-Care Identity Management: MSH-21 of what it sends as ORU^R01. */
const ASSOCIATION_PROFILES: ReadonlySet<string> = new Set([
  '1.3.6.1.4.1.19376.1.6.1.51.1',
  '1.3.6.1.4.1.19376.1.6.1.52.1',
]);

const SEPARATOR_FIELDS: ReadonlySet<number | undefined> = new Set([1, 2]);

/** Fields whose faults make a rejection. */
const REJECTED_FOR: ReadonlySet<number | undefined> = new Set([...SEPARATOR_FIELDS, 9, 11, 12]);

/** Judges a message by its MSH: what it is, whether it is taken, and how its sender wants it answered. */
export function checkHeader(message: Hl7Message): HeaderCheck {
  const segment = message.header;
  if (segment === null) return { kind: 'noHeader', faults: message.faults };
  const header = readHeader(segment, message);
  if (isAcknowledgement(header, message)) return { kind: 'acknowledgement', header };
  const faults = headerFaults(segment, header, message);
  const grave = faults.filter((fault) => fault.severity !== 'W');
  if (grave.length === 0) {
    return { kind: 'accepted', header, purpose: purposeOf(header), warnings: faults };
  }
  const rejected = grave.some((fault) => REJECTED_FOR.has(fault.location?.field));
  return { kind: 'refused', header, as: rejected ? 'reject' : 'error', faults };
}

/**
 * An MSA without patient or observation is an answer too: some senders put the event that they answer
 * into MSH-9 of their acknowledgement.
 */
function isAcknowledgement(header: Hl7Header, message: Hl7Message): boolean {
  if (/^ACK(?![A-Za-z0-9])/.test(header.messageType)) return true;
  const ids = new Set(message.segments.map((segment) => segment.id));
  return ids.has('MSA') && !ids.has('PID') && !ids.has('OBX');
}

function headerFaults(
  segment: Hl7Segment,
  header: Hl7Header,
  message: Hl7Message,
): readonly Hl7Fault[] {
  const inSyntax = message.faults.filter((fault) => fault.location?.segment === 'MSH');
  // Without separators nothing else of the header can be told.
  const separators = inSyntax.filter((fault) => SEPARATOR_FIELDS.has(fault.location?.field));
  if (separators.length > 0) return separators;
  return [
    ...inSyntax,
    ...sentTimeFaults(segment, header),
    ...typeFaults(segment, header),
    ...controlIdFaults(segment),
    ...tableFaults(segment, header),
  ];
}

function sentTimeFaults(segment: Hl7Segment, header: Hl7Header): readonly Hl7Fault[] {
  const location = segment.at(7);
  if (header.sentText === '') return [warning(location, '101', 'the time of sending is missing')];
  const sent = readWrittenTime(header.sentText);
  return sent.kind === 'fault'
    ? [warning(location, '102', `the time of sending is ${sent.text}`)]
    : [];
}

function typeFaults(segment: Hl7Segment, header: Hl7Header): readonly Hl7Fault[] {
  if (header.messageType === '') {
    return [error(segment.at(9), '101', 'the message type is missing')];
  }
  const events = EVENTS.get(header.messageType);
  if (events === undefined) {
    const text = `this message type is not taken; taken are ${[...EVENTS.keys()].join(' and ')}`;
    return [error(segment.at(9, 1, 1), '200', text)];
  }
  if (events.has(header.event)) return [];
  const text = `of ${header.messageType} the events ${[...events].join(', ')} are taken`;
  return [error(segment.at(9, 1, 2), '201', text)];
}

function controlIdFaults(segment: Hl7Segment): readonly Hl7Fault[] {
  const field = segment.field(10);
  const characters = field.rawBytes.toString('utf8');
  if (characters.trim() === '' || field.isDeletion) {
    return [error(segment.at(10), '101', 'the message control id is missing')];
  }
  if (characters.length <= MAX_CONTROL_ID_CHARACTERS) return [];
  const text = `the message control id has more than ${MAX_CONTROL_ID_CHARACTERS} characters`;
  return [error(segment.at(10), '104', text)];
}

/** MSH-11, -12, -15 and -16 against tables 0103, 0104 and 0155. */
function tableFaults(segment: Hl7Segment, header: Hl7Header): readonly Hl7Fault[] {
  const faults: Hl7Fault[] = [];
  if (header.processingId === '') {
    faults.push(error(segment.at(11), '101', 'the processing id is missing'));
  } else if (!PROCESSING_IDS.has(header.processingId)) {
    faults.push(error(segment.at(11, 1, 1), '202', 'the processing id must be P, D or T'));
  }
  if (header.version === '') {
    faults.push(error(segment.at(12), '101', 'the version is missing'));
  } else if (!VERSIONS.has(header.version)) {
    faults.push(error(segment.at(12, 1, 1), '203', 'versions 2.3 to 2.9.1 are taken'));
  }
  for (const field of [15, 16]) {
    if (isCondition(segment.text(field))) continue;
    faults.push(warning(segment.at(field), '103', 'not AL, NE, ER or SU; read as AL'));
  }
  return faults;
}

function purposeOf(header: Hl7Header): MessagePurpose {
  if (header.messageType === 'ADT') return 'patient';
  const asserted = header.profiles.some((profile) => ASSOCIATION_PROFILES.has(profile.oid));
  return asserted ? 'association' : 'observations';
}

function error(location: Hl7Location, code: ErrorCondition, text: string): Hl7Fault {
  return { location, code, severity: 'E', text };
}

function warning(location: Hl7Location, code: ErrorCondition, text: string): Hl7Fault {
  return { location, code, severity: 'W', text };
}
