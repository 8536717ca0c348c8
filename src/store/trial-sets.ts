/** Stored sets for a trial: page by page in the order of receipt, with what was known when each came. */
import type { ClientBase, Pool } from 'pg';
import { differInHistory, rulesLookingBack } from '../vitals/limits-history.js';
import type { JudgingFacts, NormalisedSet, PastReading } from '../vitals/shapes.js';
import type { Edition } from './edition-shelf.js';
import { readKnownEncounters } from './encounter-claims.js';
import { readRegister, windowOf } from './judging-facts.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { historyWindowOf, readHistory } from './patient-history.js';
import type { Rereading } from './rejudge-identity.js';
import { rereadSet } from './reread-set.js';
import { firstIdAt } from './review-submissions.js';
import { readEarlierThen, readKept } from './trial-facts.js';
import type { KeptSet } from './trial-facts.js';

/** A count stops here: a trial of more sets is possible, but how many there are is not told. */
const COUNTED_AT_MOST = 5_000_000;
const NOBODY: ReadonlySet<number> = new Set();

/** A stored set with everything that it is judged by. */
export interface TrialCase {
  readonly submissionId: string;
  /** The edition that judged it. */
  readonly edition: Edition;
  readonly facts: JudgingFacts;
  /**
   * Readings that rules looking back had noted, where these were not asked again because the trial does
   * not concern them: what they said stands, whatever the configuration.
   */
  readonly noted: ReadonlySet<number>;
}

export interface TrialPage {
  readonly cases: readonly TrialCase[];
  /** Sets whose bytes can no longer be read as a set. */
  readonly unreadable: number;
  /** The submission after which the next page begins; null: this is the last page. */
  readonly lastId: string | null;
}

export interface TrialRange {
  readonly fromMs: number;
  /** Exclusive. */
  readonly toMs: number;
}

/** What reading a page takes. */
export interface TrialReader {
  readonly pool: Pool;
  readonly names: Names;
  readonly judging: Rereading;
  readonly range: TrialRange;
  /** The configuration that is tried. */
  readonly changed: Edition;
}

interface TrialSetRow {
  submission_id: string;
  patient_key: number;
  received_at: Date;
  edition: number;
  attended: boolean;
  second_identifier_required: boolean;
  synchronised: boolean;
  body: Buffer;
  content_type: string;
  delivered: Buffer | null;
}

const TAKEN = "s.kind = 'set' and s.holds_key";

/** How many sets were taken in this time of receipt; null: more than are counted. */
export async function countTrialSets(
  pool: Pool,
  { fromMs, toMs }: TrialRange,
): Promise<number | null> {
  const { rows } = await pool.query<{ sets: number }>(
    `select count(*)::int as sets from (
       select from submissions s
        where s.submission_id >= $1 and s.submission_id < $2 and ${TAKEN} limit $3) as counted`,
    [firstIdAt(fromMs), firstIdAt(toMs), COUNTED_AT_MOST],
  );
  const sets = rows[0]?.sets ?? 0;
  return sets === COUNTED_AT_MOST ? null : sets;
}

/**
 * The next sets of the range after a submission (null: the first), ready to be judged: with the patients'
 * registration as it is now, and with the earlier readings as they stood when each set was committed.
 */
export async function readTrialPage(
  reader: TrialReader,
  afterId: string | null,
  limit: number,
): Promise<TrialPage> {
  const client = await reader.pool.connect();
  try {
    const rows = await readRows(client, reader.range, afterId, limit);
    const sets = rows.flatMap((row) => {
      const set = parse(reader.judging, row);
      return set === null ? [] : [{ row, set }];
    });
    return {
      cases: await addFacts(client, reader, sets),
      unreadable: rows.length - sets.length,
      lastId: rows.length < limit ? null : (rows.at(-1)?.submission_id ?? null),
    };
  } finally {
    client.release();
  }
}

async function readRows(
  client: ClientBase,
  range: TrialRange,
  afterId: string | null,
  limit: number,
): Promise<TrialSetRow[]> {
  const { rows } = await client.query<TrialSetRow>({
    name: 'read-trial-sets',
    text: `select s.submission_id, s.patient_key, s.received_at, s.edition, s.body, s.content_type, s.delivered,
                  c.attended, c.second_identifier_required, c.synchronised
             from submissions s join sources c on c.source_key = s.source_key
            where s.submission_id >= $1 and s.submission_id > $2 and s.submission_id < $3 and ${TAKEN}
            order by s.submission_id limit $4`,
    values: [firstIdAt(range.fromMs), afterId ?? firstIdAt(0), firstIdAt(range.toMs), limit],
  });
  return rows;
}

interface ReadSet {
  readonly row: TrialSetRow;
  readonly set: NormalisedSet;
}

/** Null: the contract has become narrower since; such a set is counted and left out. */
function parse(judging: Rereading, row: TrialSetRow): NormalisedSet | null {
  try {
    return rereadSet(judging, row);
  } catch {
    return null;
  }
}

/** What is known about the sets of one page. */
interface PageFacts {
  readonly editions: ReadonlyMap<number, Edition>;
  readonly kept: ReadonlyMap<string, KeptSet>;
  readonly earlier: Awaited<ReturnType<typeof readEarlierThen>>;
  readonly register: Awaited<ReturnType<typeof readRegister>>;
  readonly encounters: Awaited<ReturnType<typeof readKnownEncounters>>;
  /** By patient; null: the trial does not concern rules that look back. */
  readonly history: ReadonlyMap<number, readonly PastReading[]> | null;
}

async function addFacts(
  client: ClientBase,
  reader: TrialReader,
  sets: readonly ReadSet[],
): Promise<TrialCase[]> {
  if (sets.length === 0) return [];
  const { names, judging, changed } = reader;
  const editions = new Map<number, Edition>();
  for (const { row } of sets) {
    editions.set(row.edition, await judging.editions.numbered(client, row.edition));
  }
  const kept = await readKept(
    client,
    sets.map(({ row }) => row.submission_id),
    rulesLookingBack(changed.limits),
  );
  const comparedMs = Math.max(
    ...[changed, ...editions.values()].map(({ limits }) => limits.comparedMs),
  );
  const windows = sets.flatMap(({ row, set }) => {
    const own = kept.get(row.submission_id);
    if (own === undefined) return [];
    const { submission_id: submissionId } = row;
    return [{ ...windowOf(row.patient_key, set.readings, comparedMs), submissionId, own }];
  });
  const facts: PageFacts = {
    editions,
    kept,
    earlier: await readEarlierThen(client, windows, judging.unitOf),
    register: await readRegister(client, [...new Set(sets.map(({ row }) => row.patient_key))]),
    encounters: await readKnownEncounters(
      client,
      names,
      sets.flatMap(({ row: { patient_key: patientKey }, set: { encounter } }) =>
        encounter === null ? [] : [{ encounter, patientKey }],
      ),
    ),
    history: await readHistoryIfConcerned(client, changed, editions, sets),
  };
  return sets.flatMap((one) => toCase(one, facts));
}

async function readHistoryIfConcerned(
  client: ClientBase,
  changed: Edition,
  editions: ReadonlyMap<number, Edition>,
  sets: readonly ReadSet[],
): Promise<PageFacts['history']> {
  const all = [...editions.values()];
  if (!all.some(({ limits }) => differInHistory(limits, changed.limits))) return null;
  const historyMs = Math.max(...[changed, ...all].map(({ limits }) => limits.historyMs));
  const byPatient = new Map<number, NormalisedSet['readings'][number][]>();
  for (const { row, set } of sets) {
    byPatient.set(row.patient_key, [...(byPatient.get(row.patient_key) ?? []), ...set.readings]);
  }
  return readHistory(
    client,
    [...byPatient].map(([patientKey, readings]) =>
      historyWindowOf(patientKey, readings, historyMs),
    ),
  );
}

/** None for a set whose readings another submission had brought already: nothing of it was judged. */
function toCase({ row, set }: ReadSet, facts: PageFacts): TrialCase[] {
  const { submission_id: submissionId, patient_key: patientKey } = row;
  const own = facts.kept.get(submissionId);
  const edition = facts.editions.get(row.edition);
  if (own === undefined || edition === undefined) return [];
  const encounter =
    set.encounter === null ? undefined : facts.encounters.get(nameOf(set.encounter));
  const history = facts.history?.get(patientKey) ?? [];
  return [
    {
      submissionId,
      edition,
      facts: {
        set: { ...set, readings: set.readings.filter(({ index }) => own.indexes.has(index)) },
        receivedAtMs: row.received_at.getTime(),
        patient: facts.register.get(patientKey) ?? null,
        encounterOfAnother: encounter !== undefined && encounter.patientKey !== patientKey,
        source: {
          attended: row.attended,
          secondIdentifierRequired: row.second_identifier_required,
          synchronised: row.synchronised,
        },
        earlier: facts.earlier.get(submissionId) ?? [],
        history: history.filter(({ readingId }) => readingId < submissionId),
      },
      noted: facts.history === null ? own.lookedBackOn : NOBODY,
    },
  ];
}
