/** What a batch gathers to write, submission by submission: pure work between the reads and the writes. */
import type {
  DeviceFacts,
  EarlierReading,
  Finding,
  JudgedSet,
  JudgingFacts,
  LinkedReading,
  NormalisedSet,
  PastReading,
  RegisteredPatient,
  SourceFacts,
} from '../vitals/shapes.js';
import type { AuditEntry } from './audit.js';
import type { Edition, EditionAt } from './edition-shelf.js';
import type { KnownEncounters, VisitNaming } from './encounter-claims.js';
import { draftPublications } from './draft-publications.js';
import { draftRecords } from './draft-records.js';
import type { DraftedSet } from './follow-panels.js';
import { findIdentified, nameReadings, withoutLinked } from './identified-readings.js';
import type { IdentifiedReadings, NamedReading } from './identified-readings.js';
import { answerFromKey } from './key-answers.js';
import type { KeyAnswers } from './key-answers.js';
import { showToLaterSets } from './later-sets.js';
import type { TableRecord } from './insert-records.js';
import { judgeNew, linkRecord } from './linked-readings.js';
import type { SentReadings } from './linked-readings.js';
import { messageRecord, unreadRecord } from './message-records.js';
import type { MessageHeader, PlacedUnreadRow } from './message-records.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { submissionRecord } from './submission-records.js';
import type { Envelope, KeyHolder } from './submission-records.js';

interface Item<Content> {
  readonly envelope: Envelope;
  readonly source: SourceFacts;
  readonly content: Content;
  /** It is an HL7 v2 message. */
  readonly message?: MessageHeader;
}

/** A set ready to be judged. */
export type JudgeableItem = Item<SetContent>;

/** One submission, or one part of it: a set ready to be judged, or what is only to be kept. */
export type SetItem = JudgeableItem | Item<KeptContent>;

/** What is kept with its answer and brings no set: the contract refused it, or it told something else. */
export interface KeptContent {
  readonly status: number;
  readonly answer: Buffer;
  /** For the audit trail. */
  readonly action: string;
  /** By which it is known again when it comes once more; absent: it is kept each time. */
  readonly key?: string;
}

export interface SetContent {
  readonly set: NormalisedSet;
  /** The sending program named the recorder; no person signed in. */
  readonly recorderAsserted: boolean;
  /** Rows of a message that brought no reading. */
  readonly unread?: readonly PlacedUnreadRow[] | undefined;
}

/** What the sender is told. */
export interface SetOutcome {
  readonly status: number;
  readonly answer: Buffer;
  readonly repeat: boolean;
  /** Null for refusals, repeats and conflicts. */
  readonly judged: JudgedSet | null;
  /** The submission under which it is kept; of a repeat, the first one. */
  readonly submissionId: string;
}

/** What drafting needs from the stages. */
export interface SetAnswers extends KeyAnswers {
  readonly judge: (facts: JudgingFacts, edition: Edition) => JudgedSet;
  /** The status and body that tell the sender what became of a set. */
  readonly answer: (
    set: NormalisedSet,
    submissionId: string,
    judged: JudgedSet,
    /** Readings that were kept already, each at its place in the set. */
    linked: readonly LinkedReading[],
  ) => { readonly status: number; readonly body: Buffer };
}

/** Everything known when the sets of a batch are judged. */
export interface Facts {
  /** A set is judged by the edition in force at its receipt. */
  readonly editionAt: EditionAt;
  readonly register: ReadonlyMap<number, RegisteredPatient>;
  readonly earlier: Map<number, EarlierReading[]>;
  readonly history: Map<number, PastReading[]>;
  readonly sent: Map<number, SentReadings>;
  readonly encounters: KnownEncounters;
  /** What is kept under the identifiers that sets bring a condition for. */
  readonly identified: IdentifiedReadings;
  /** Of the devices that each set names. */
  readonly devices: ReadonlyMap<JudgeableItem, readonly DeviceFacts[]>;
  /** Patients of whom this batch has more than one set: the later one must see the earlier. */
  readonly shared: ReadonlySet<number>;
}

/** What one batch has gathered to write. */
export interface Drafts {
  readonly submissions: Record<string, unknown>[];
  /** Those that brought a reading that was not kept already. */
  readonly sets: DraftedSet[];
  readonly readings: Record<string, unknown>[];
  readonly links: Record<string, unknown>[];
  readonly named: NamedReading[];
  readonly messages: TableRecord[];
  readonly unread: TableRecord[];
  readonly visits: VisitNaming[];
  readonly audit: AuditEntry[];
  /** Readings of earlier commits that must go out now, with the finding that says why. */
  readonly publish: Map<string, Finding>;
}

export function isJudgeable(item: SetItem): item is JudgeableItem {
  return 'set' in item.content;
}

/** The name of a set's key. */
export function keyName(sourceKey: number, setId: string): string {
  return `${sourceKey}/${setId.toLowerCase()}`;
}

function draftAudit(
  item: SetItem,
  action: string,
  status: number,
  submissionId: string,
  drafts: Drafts,
  patientKey: number | null = null,
): void {
  const { clientKey, personKey, receivedAtMs, origin } = item.envelope;
  drafts.audit.push({
    at: new Date(receivedAtMs),
    ...{ clientKey, personKey, patientKey, origin, action, outcome: status },
    entity: `submissions/${submissionId}`,
  });
}

function draftKept(
  item: SetItem,
  status: number,
  answer: Buffer,
  edition: Edition,
  drafts: Drafts,
  key: string | null = null,
): void {
  drafts.submissions.push(
    submissionRecord(item.envelope, {
      setId: key,
      holdsKey: key !== null,
      status,
      answer,
      edition: edition.number,
      patientKey: null,
    }),
  );
  draftMessage(item, drafts);
}

function draftMessage({ envelope, message }: SetItem, drafts: Drafts): void {
  if (message === undefined || envelope.partOf !== undefined) return;
  drafts.messages.push(messageRecord(envelope.submissionId, envelope.sourceKey, message));
}

/** What brings no set is kept with its answer. */
export function draftUnjudged(
  item: SetItem,
  { status, answer, action, key }: KeptContent,
  edition: Edition,
  drafts: Drafts,
): SetOutcome {
  const { submissionId } = item.envelope;
  draftKept(item, status, answer, edition, drafts, key ?? null);
  draftAudit(item, action, status, submissionId, drafts);
  return { status, answer, repeat: false, judged: null, submissionId };
}

/** A set whose key is taken: the first answer again, or 409. The very same bytes are not kept twice. */
export function draftRepeat(
  item: JudgeableItem,
  holder: KeyHolder,
  answers: SetAnswers,
  edition: Edition,
  drafts: Drafts,
): SetOutcome {
  const { status, answer, repeat, sameBytes } = answerFromKey(item, holder, answers);
  if (!sameBytes) draftKept(item, status, answer, edition, drafts);
  draftAudit(item, repeat ? 'set-repeated' : 'set-conflict', status, holder.submission_id, drafts);
  return { status, answer, repeat, judged: null, submissionId: holder.submission_id };
}

/** Judges one set and drafts its submission, its readings and what it sets in motion. */
export function draftSet(
  item: JudgeableItem,
  names: Names,
  answers: SetAnswers,
  facts: Facts,
  drafts: Drafts,
): SetOutcome {
  const { envelope, content } = item;
  const patient = names.patient(content.set.patient.identifier);
  const { patientKey } = patient;
  const identified = findIdentified(content.set.readings, facts.identified, patient);
  const set = withoutLinked(content.set, identified);
  const edition = facts.editionAt(envelope.receivedAtMs);
  const known = judgingFacts(item, set, patientKey, facts);
  const { judged, linked: alike } = judgeNew(known, facts.sent.get(patientKey), (told) =>
    answers.judge(told, edition),
  );
  const linked = [...identified, ...alike];
  const records = draftReadings(item, judged, names, drafts);
  const { submissionId } = envelope;
  if (records.length > 0) drafts.sets.push({ submissionId, records, linked });
  drafts.named.push(...nameReadings(envelope.submissionId, content.set.readings, judged, linked));
  drafts.links.push(...linked.map((kept) => linkRecord(envelope.submissionId, kept)));
  draftPublications(judged, drafts);
  if (facts.shared.has(patientKey)) {
    showToLaterSets(facts, patientKey, envelope.submissionId, judged);
  }
  const { status, body } = answers.answer(set, envelope.submissionId, judged, linked);
  drafts.submissions.push(
    submissionRecord(envelope, {
      setId: set.setId,
      holdsKey: true,
      status,
      answer: body,
      edition: judged.edition,
      patientKey,
      delivered: set.claim === undefined ? undefined : set,
    }),
  );
  draftMessage(item, drafts);
  for (const row of content.unread ?? []) {
    drafts.unread.push(unreadRecord(envelope.submissionId, row));
  }
  const about = judged.readings.some((one) => one.hold === 'identity') ? null : patientKey;
  draftAudit(item, 'set-received', status, envelope.submissionId, drafts, about);
  return { status, answer: body, repeat: false, judged, submissionId: envelope.submissionId };
}

const NO_DEVICES: readonly DeviceFacts[] = [];

function judgingFacts(
  item: JudgeableItem,
  set: NormalisedSet,
  patientKey: number,
  facts: Facts,
): JudgingFacts {
  const encounter =
    set.encounter === null ? undefined : facts.encounters.get(nameOf(set.encounter));
  return {
    set,
    receivedAtMs: item.envelope.receivedAtMs,
    patient: facts.register.get(patientKey) ?? null,
    encounterOfAnother: encounter !== undefined && encounter.patientKey !== patientKey,
    source: item.source,
    devices: facts.devices.get(item) ?? NO_DEVICES,
    earlier: facts.earlier.get(patientKey) ?? [],
    history: facts.history.get(patientKey) ?? [],
  };
}

function draftReadings(
  item: JudgeableItem,
  judged: JudgedSet,
  names: Names,
  drafts: Drafts,
): readonly Record<string, unknown>[] {
  const { envelope, content } = item;
  const { patientKey, records } = draftRecords(envelope, content, judged, names);
  drafts.readings.push(...records);
  const { encounter } = content.set;
  if (encounter !== null) {
    const identified = judged.readings.every((one) => one.hold !== 'identity');
    drafts.visits.push({ encounter, patientKey, identified, records });
  }
  return records;
}
