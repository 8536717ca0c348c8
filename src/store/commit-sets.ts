/**
 * One batch of submissions in one transaction: lock the patients, read what the rules must know,
 * judge, write, take the stamp, commit. Two sets of one patient that arrive by two roads at the same
 * moment meet here: the second sees the first, in whichever process.
 */
import type { Pool, PoolClient } from 'pg';
import type { CanonicalUnit, Vital } from '../vitals/words.js';
import type { Identifier } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import { readFacts, StaleNames } from './batch-facts.js';
import { draftRepeat, draftSet, draftUnjudged, isJudgeable, keyName } from './draft-sets.js';
import type { Drafts, JudgeableItem, SetAnswers, SetItem, SetOutcome } from './draft-sets.js';
import type { EditionShelf } from './edition-shelf.js';
import { claimEncounters } from './encounter-claims.js';
import { followPanels, insertFirstPanels } from './follow-panels.js';
import { conditionsOf, insertIdentifiers } from './identified-readings.js';
import { insertLinks } from './linked-readings.js';
import { takeLocks } from './locks.js';
import { insertMessageRecords } from './message-records.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { takeStamp } from './publication-clock.js';
import { publishHeldEarlier } from './publish-held.js';
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
    const facts = await readFacts(client, names, judging.unitOf, editionAt, sets);
    const drafts: Drafts = {
      submissions: [],
      sets: [],
      readings: [],
      links: [],
      named: [],
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
    readingNames: sets.flatMap(({ content }) => conditionsOf(content.set.readings).map(nameOf)),
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
  await insertIdentifiers(client, drafts.named);
  await publishHeldEarlier(client, drafts.publish, stampMs);
  const isAllNew = drafts.sets.every(({ linked }) => linked.length === 0);
  if (drafts.publish.size === 0 && isAllNew) await insertFirstPanels(client, drafts.sets, stampMs);
  else await followPanels(client, stampMs);
}
