/**
 * One reading by two roads. What another submission brought already is kept once, and the later set points
 * to it. Equal must be: patient, sign, method, site and side, device, time to the second, the value as it
 * was sent, and whether it was measured again. Anything less is two readings.
 */
import type { ClientBase, Pool } from 'pg';
import type { Finding, JudgedSet, JudgingFacts, LinkedReading, Reading } from '../vitals/shapes.js';
import type { Part } from '../vitals/words.js';
import { insertRecords } from './insert-records.js';
import type { Columns, TableRecord } from './insert-records.js';
import { readingId, submissionOf } from './reading-rows.js';

/** Readings of one patient by what they were sent as; several of one set may be alike. */
export type SentReadings = Map<string, LinkedReading[]>;

/** What makes two readings of a patient the same one. */
export type SentForm = Pick<
  Reading,
  'vital' | 'method' | 'site' | 'side' | 'device' | 'code' | 'absent'
> & {
  readonly takenAtMs: number;
  readonly values: Readonly<Partial<Record<Part, string>>>;
  readonly entered: Reading['entered'];
  readonly confirmed: boolean;
};

function sentName(form: SentForm): string {
  const { vital, method, site, side, device, code, absent, values, entered } = form;
  return JSON.stringify([
    [vital, method, site, side, code, absent, form.confirmed],
    device === null ? null : [device.system, device.value],
    Math.floor(form.takenAtMs / 1000),
    // What was typed, in a known order of its members; else the numbers with all their digits.
    Object.entries(entered ?? values).sort(([a], [b]) => (a < b ? -1 : 1)),
  ]);
}

function textsOf({ values }: Reading): Partial<Record<Part, string>> {
  return Object.fromEntries(
    Object.entries(values).map(([part, measured]) => [part, measured.text]),
  );
}

/** Whether a reading is what was sent once. */
export function isSentAs(reading: Reading, form: SentForm): boolean {
  return sentName(formOf(reading)) === sentName(form);
}

function formOf(reading: Reading): SentForm {
  const { vital, method, site, side, device, code, absent, entered, takenAt, context } = reading;
  const values = textsOf(reading);
  const confirmed = context.confirmed === true;
  const { epochMs: takenAtMs } = takenAt;
  return { vital, method, site, side, device, code, absent, entered, takenAtMs, values, confirmed };
}

/** The readings of a set that were kept already, by their place in it; each kept one stands for one. */
function findKept(
  readings: readonly Reading[],
  sent: SentReadings | undefined,
): Map<number, LinkedReading> {
  const found = new Map<number, LinkedReading>();
  if (sent === undefined) return found;
  const taken = new Set<string>();
  for (const reading of readings) {
    const kept = sent.get(sentName(formOf(reading)))?.find((one) => !taken.has(one.readingId));
    if (kept === undefined) continue;
    taken.add(kept.readingId);
    found.set(reading.index, atPlace(kept, reading.index));
  }
  return found;
}

/**
 * Judges what is new in a set. What was kept already is linked, not judged again, and confirms nothing. In
 * a set whose patient is in doubt everything is new: such readings are never linked. Where the doubt names
 * some of the new readings only, the others of their device stay linked.
 */
export function judgeNew(
  all: JudgingFacts,
  sent: SentReadings | undefined,
  judge: (facts: JudgingFacts) => JudgedSet,
): { readonly judged: JudgedSet; readonly linked: readonly LinkedReading[] } {
  const kept = findKept(all.set.readings, sent);
  if (kept.size > 0) {
    const readings = all.set.readings.filter(({ index }) => !kept.has(index));
    const judged = judge({ ...all, set: { ...all.set, readings } });
    if (!judged.findings.some(doubtsWholeSet)) {
      return { judged, linked: [...kept.values()] };
    }
  }
  return { judged: judge(all), linked: NONE };
}

const NONE: readonly LinkedReading[] = [];

function doubtsWholeSet({ hold, readings }: Finding): boolean {
  return hold === 'identity' && readings.length === 0;
}

/** The kept reading as the later set tells it: what was said about it names its place there. */
export function atPlace<T extends LinkedReading>(kept: T, index: number): T {
  const findings = kept.findings.map((finding): Finding => ({ ...finding, readings: [index] }));
  return { ...kept, index, findings };
}

/** The readings of a set that was just judged, for later sets of the same batch. */
export function addSent(sent: SentReadings, submissionId: string, judged: JudgedSet): void {
  for (const one of judged.readings) {
    const { reading, verdict, status, interpretation, findings, hold } = one;
    if (verdict === 'rejected' || hold === 'identity') continue;
    const { index, vital, code, absent, entered } = reading;
    const id = readingId(submissionId, index);
    const told = { code, absent, entered, verdict, status, interpretation, findings };
    const values = textsOf(reading);
    keepSent(sent, formOf(reading), { ...told, index, readingId: id, version: 1, vital, values });
  }
}

export function keepSent(sent: SentReadings, form: SentForm, kept: LinkedReading): void {
  const name = sentName(form);
  const alike = sent.get(name);
  if (alike === undefined) sent.set(name, [kept]);
  else alike.push(kept);
}

const LINK_COLUMNS: Columns = [
  ['submission_id', 'uuid'],
  ['place', 'smallint'],
  ['reading_id', 'uuid'],
  ['first_submission_id', 'uuid'],
];

/** The link of a later submission to a reading. */
export function linkRecord(submissionId: string, kept: LinkedReading): TableRecord {
  return {
    submission_id: submissionId,
    place: kept.index,
    reading_id: kept.readingId,
    first_submission_id: submissionOf(kept.readingId),
  };
}

/** Writes the links; their submissions must have been written. */
export async function insertLinks(
  client: ClientBase,
  links: readonly TableRecord[],
): Promise<void> {
  await insertRecords(client, 'linked_readings', LINK_COLUMNS, links);
}

/** Whether a set of this source brought the reading, too. */
export async function isLinkedTo(pool: Pool, id: string, sourceKey: number): Promise<boolean> {
  const { rows } = await pool.query(
    `select from linked_readings k join submissions s on s.submission_id = k.submission_id
      where k.first_submission_id = $1 and k.reading_id = $2 and s.source_key = $3 limit 1`,
    [submissionOf(id), id, sourceKey],
  );
  return rows.length > 0;
}
