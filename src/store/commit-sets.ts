/**
 * One batch of submissions in one transaction: lock the patients, read what the rules must know,
 * judge, write, take the stamp, commit. Two sets of one patient that arrive by two roads at the same
 * moment meet here: the second sees the first, in whichever process.
 */
import type { Pool, PoolClient } from 'pg';
import type { CanonicalUnit, Vital } from '../vitals/words.js';
import type { Identifier, NormalisedSet } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import { draftRepeat, draftSet, draftUnjudged, isJudgeable, keyName } from './draft-sets.js';
import type {
  Drafts,
  Facts,
  JudgeableItem,
  SetAnswers,
  SetItem,
  SetOutcome,
} from './draft-sets.js';
import type { EditionAt, EditionShelf } from './edition-shelf.js';
import { claimEncounters, readKnownEncounters } from './encounter-claims.js';
import type { NamedVisit } from './encounter-claims.js';
import { readEarlierReadings, readNamedRegister, windowOf } from './judging-facts.js';
import type { NamedRegister, TimeWindow } from './judging-facts.js';
import { insertLinks } from './linked-readings.js';
import { takeLocks } from './locks.js';
import { insertMessageRecords } from './message-records.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { historyWindowOf, readHistory } from './patient-history.js';
import type { HistoryWindow } from './patient-history.js';
import { takeStamp } from './publication-clock.js';
import { publishHeldEarlier } from './publish-held.js';
import { readSent } from './read-sent.js';
import { holdUntil, insertFirstVersions } from './reading-records.js';
import type { HoldMinutes } from './reading-records.js';
import { submissionOf } from './reading-rows.js';
import { findKeyHolders, insertSubmissions } from './submission-records.js';
import { inTransaction } from './transaction.js';

/** What the store needs from the stages, given to it by the pipeline. */
export interface Judging extends SetAnswers {
  readonly unitOf: (vital: Vital) => CanonicalUnit | null;
  readonly editions: EditionShelf;
  readonly holdMinutes: HoldMinutes;
}

/** Commits the batch, all or nothing; one outcome an item, in order. */
export async function commitSets(
  pool: Pool,
  names: Names,
  judging: Judging,
  items: readonly SetItem[],
): Promise<SetOutcome[]> {
  await learnNames(names, items);
  try {
    return await commitBatch(pool, names, judging, items);
  } catch (error) {
    if (!(error instanceof StaleNames)) throw error;
    await names.relearnPatients(error.identifiers);
    return commitBatch(pool, names, judging, items);
  }
}

function commitBatch(
  pool: Pool,
  names: Names,
  judging: Judging,
  items: readonly SetItem[],
): Promise<SetOutcome[]> {
  return inTransaction(pool, async (client) => {
    const sets = items.filter(isJudgeable);
    await lock(client, names, sets);
    const holders = await findKeyHolders(
      client,
      sets.map((item) => ({ setId: item.content.set.setId, sourceKey: item.envelope.sourceKey })),
    );
    const holderOf = new Map(holders.map((one) => [keyName(one.source_key, one.set_id), one]));
    const editionAt = await judging.editions.inForce(client);
    const facts = await readFacts(client, names, judging, editionAt, sets);
    const drafts: Drafts = {
      submissions: [],
      readings: [],
      links: [],
      messages: [],
      unread: [],
      visits: [],
      audit: [],
      publish: new Map(),
    };
    const outcomes = items.map((item) => {
      if (!isJudgeable(item)) {
        const edition = editionAt(item.envelope.receivedAtMs);
        return draftUnjudged(item, item.content, edition, drafts);
      }
      const holder = holderOf.get(keyName(item.envelope.sourceKey, item.content.set.setId));
      return holder === undefined
        ? draftSet(item, names, judging, facts, drafts)
        : draftRepeat(item, holder, judging, editionAt(item.envelope.receivedAtMs), drafts);
    });
    await claimEncounters(client, facts.encounters, drafts.visits);
    await write(client, judging, drafts);
    return outcomes;
  });
}

async function lock(
  client: PoolClient,
  names: Names,
  sets: readonly JudgeableItem[],
): Promise<void> {
  await takeLocks(client, {
    patientKeys: sets.map((item) => names.patient(item.content.set.patient.identifier).patientKey),
    setKeys: sets.map((item) => keyName(item.envelope.sourceKey, item.content.set.setId)),
    encounters: sets
      .flatMap(({ content: { set } }) => (set.encounter === null ? [] : [nameOf(set.encounter)]))
      .filter((name) => names.encounter(name) === undefined),
  });
}

async function learnNames(names: Names, items: readonly SetItem[]): Promise<void> {
  const sets = items.filter(isJudgeable).map((item) => item.content.set);
  const present = (found: readonly (Identifier | null)[]): Identifier[] =>
    found.filter((one) => one !== null);
  await names.learnPatients(sets.map((set) => set.patient.identifier));
  await names.learnPeople(present(sets.map((set) => set.recorder)));
  await names.learnDevices(
    present(sets.flatMap((set) => set.readings.map((reading) => reading.device))),
  );
  await names.learnPlaces(sets.map((set) => set.location).filter((path) => path !== null));
}

async function readFacts(
  client: PoolClient,
  names: Names,
  judging: Judging,
  editionAt: EditionAt,
  sets: readonly JudgeableItem[],
): Promise<Facts> {
  // A message may bring rows and no reading: it has no time to look around in.
  const items = sets.filter(({ content }) => content.set.readings.length > 0);
  const windows = items.map(({ envelope, content: { set } }) =>
    windowOf(
      names.patient(set.patient.identifier).patientKey,
      set.readings,
      editionAt(envelope.receivedAtMs).limits.comparedMs,
    ),
  );
  const { register } = await readCurrentNames(client, names, sets);
  const once = new Set<number>();
  const shared = new Set<number>();
  for (const { patientKey } of windows) (once.has(patientKey) ? shared : once).add(patientKey);
  const earlier = await readEarlierReadings(client, oneAPatient(windows), judging.unitOf);
  const history = await readHistory(client, historyWindows(names, editionAt, items));
  // What was kept for the same second is near in time: without near readings there is none.
  const sent = await readSent(
    client,
    oneAPatient(sentWindows(names, items)).filter(({ patientKey }) => earlier.has(patientKey)),
  );
  const encounters = await readKnownEncounters(
    client,
    names,
    items.flatMap(({ content: { set } }) => visitOf(names, set)),
  );
  return { editionAt, register, earlier, history, sent, encounters, shared };
}

/** Remembered of an identifier is whose it was before a merge. */
class StaleNames extends Error {
  readonly identifiers: readonly Identifier[];

  constructor(identifiers: readonly Identifier[]) {
    super('patients were merged since their identifiers were learnt');
    this.identifiers = identifiers;
  }
}

/** @throws StaleNames when an identifier has become another patient's; the locks taken are then the wrong ones. */
async function readCurrentNames(
  client: PoolClient,
  names: Names,
  sets: readonly JudgeableItem[],
): Promise<NamedRegister> {
  const identifiers = sets.map(({ content }) => content.set.patient.identifier);
  const named = identifiers.map((identifier) => names.patient(identifier));
  const found = await readNamedRegister(client, [
    ...new Set(named.map(({ identifierKey }) => identifierKey)),
  ]);
  const stale = identifiers.filter((_identifier, place) => {
    const remembered = named[place];
    return found.patientKeyOf.get(remembered?.identifierKey ?? 0) !== remembered?.patientKey;
  });
  if (stale.length > 0) throw new StaleNames(stale);
  return found;
}

function visitOf(names: Names, { encounter, patient }: NormalisedSet): NamedVisit[] {
  if (encounter === null) return [];
  return [{ encounter, patientKey: names.patient(patient.identifier).patientKey }];
}

function sentWindows(names: Names, items: readonly JudgeableItem[]): TimeWindow[] {
  return items.map(({ content: { set } }) =>
    windowOf(names.patient(set.patient.identifier).patientKey, set.readings, 0),
  );
}

/** One a patient, of all signs that its sets bring. */
function historyWindows(
  names: Names,
  editionAt: EditionAt,
  items: readonly JudgeableItem[],
): HistoryWindow[] {
  const merged = new Map<number, HistoryWindow>();
  for (const { envelope, content } of items) {
    const { patient, readings } = content.set;
    const { historyMs } = editionAt(envelope.receivedAtMs).limits;
    const window = historyWindowOf(
      names.patient(patient.identifier).patientKey,
      readings,
      historyMs,
    );
    const known = merged.get(window.patientKey) ?? window;
    merged.set(window.patientKey, {
      patientKey: window.patientKey,
      vitals: new Set([...known.vitals, ...window.vitals]),
      fromMs: Math.min(known.fromMs, window.fromMs),
      toMs: Math.max(known.toMs, window.toMs),
    });
  }
  return [...merged.values()];
}

/** One stretch a patient, so that no earlier reading comes twice. */
function oneAPatient(windows: readonly TimeWindow[]): TimeWindow[] {
  const merged = new Map<number, TimeWindow>();
  for (const window of windows) {
    const known = merged.get(window.patientKey) ?? window;
    merged.set(window.patientKey, {
      patientKey: window.patientKey,
      fromMs: Math.min(known.fromMs, window.fromMs),
      toMs: Math.max(known.toMs, window.toMs),
    });
  }
  return [...merged.values()];
}

async function write(client: PoolClient, judging: Judging, drafts: Drafts): Promise<void> {
  await insertAudit(client, drafts.audit);
  if (drafts.readings.length === 0 && drafts.links.length === 0) {
    await insertSubmissions(client, drafts.submissions);
    await insertMessageRecords(client, drafts.messages, drafts.unread);
    return;
  }
  const doubted = new Set(
    drafts.readings
      .filter((record) => record.hold === 'identity')
      .map((record) => submissionOf(String(record.reading_id))),
  );
  const stampMs = await takeStamp(client);
  const stamp = new Date(stampMs).toISOString();
  for (const record of drafts.submissions) {
    if (record.holds_key !== true) continue;
    record.changed_stamp = stamp;
    if (doubted.has(String(record.submission_id))) record.identity_doubted_stamp = stamp;
  }
  for (const record of drafts.readings) {
    record.stamp = stamp;
    record.hold_until = holdUntil(record, stampMs, judging.holdMinutes);
  }
  await insertSubmissions(client, drafts.submissions);
  await insertMessageRecords(client, drafts.messages, drafts.unread);
  await insertFirstVersions(client, drafts.readings);
  await insertLinks(client, drafts.links);
  await publishHeldEarlier(client, drafts.publish, stampMs);
}
