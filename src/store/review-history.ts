/** How a reading came to be what it is: its versions, and what people decided about it. */
import type { Pool } from 'pg';
import type { DecisionAction, ReasonCode } from '../vitals/decisions.js';
import type { Identifier, ReadingVersion } from '../vitals/shapes.js';
import { READING_COLUMNS, READING_TABLES, toReadingVersion } from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';

/** One decision that was carried out. */
export interface KeptDecision {
  readonly action: DecisionAction;
  readonly reason: string;
  readonly reasonCode: ReasonCode;
  readonly decidedMs: number;
  /** Null: a message of the source made it. */
  readonly client: string | null;
  readonly person: Identifier | null;
  readonly fromVersion: number;
  readonly toVersion: number;
  /** The bytes of the decision are kept under this id. */
  readonly submissionId: string | null;
  /** The reading published anew under the right patient. */
  readonly newReadingId: string | null;
}

/** All versions of a reading, oldest first. */
export async function listReadingVersions(pool: Pool, id: string): Promise<ReadingVersion[]> {
  const { rows } = await pool.query<ReadingRow>({
    name: 'list-reading-versions',
    text: `select ${READING_COLUMNS} from ${READING_TABLES} where r.reading_id = $1 order by r.version`,
    values: [id],
  });
  return rows.map(toReadingVersion);
}

interface DecisionRow {
  reading_id: string;
  action: DecisionAction;
  reason: string;
  reason_code: ReasonCode;
  decided_at: Date;
  client: string | null;
  person_system: string | null;
  person_value: string | null;
  from_version: number;
  to_version: number;
  submission_id: string | null;
  new_reading_id: string | null;
}

const DECISIONS = `
  select x.action, x.reason, x.reason_code, x.decided_at, c.name as client,
         w.system as person_system, w.value as person_value,
         x.from_version, x.to_version, x.submission_id, x.new_reading_id, x.reading_id
    from decisions x
    left join clients c on c.client_key = x.client_key
    left join people w on w.person_key = x.person_key`;

/** The decisions about a reading, oldest first. */
export async function listDecisions(pool: Pool, id: string): Promise<KeptDecision[]> {
  const { rows } = await pool.query<DecisionRow>({
    name: 'list-decisions',
    text: `${DECISIONS} where x.reading_id = $1 order by x.decision_key`,
    values: [id],
  });
  return rows.map(toDecision);
}

/** The last decision about each of these readings, by its id. */
export async function findLastDecisions(
  pool: Pool,
  ids: readonly string[],
): Promise<Map<string, KeptDecision>> {
  const { rows } = await pool.query<DecisionRow>({
    name: 'find-last-decisions',
    text: `${DECISIONS} where x.reading_id = any($1::uuid[]) order by x.decision_key`,
    values: [ids],
  });
  return new Map(rows.map((row) => [row.reading_id, toDecision(row)]));
}

function toDecision(row: DecisionRow): KeptDecision {
  return {
    action: row.action,
    reason: row.reason,
    reasonCode: row.reason_code,
    decidedMs: row.decided_at.getTime(),
    client: row.client,
    person:
      row.person_system === null || row.person_value === null
        ? null
        : { system: row.person_system, value: row.person_value },
    fromVersion: row.from_version,
    toVersion: row.to_version,
    submissionId: row.submission_id,
    newReadingId: row.new_reading_id,
  };
}
