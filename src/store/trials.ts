/** Trials as they are kept: what was asked, how far it is, what came of it. */
import type { Pool } from 'pg';
import type { SiteRules } from '../vitals/site-rules.js';
import type { TrialReport } from '../vitals/trial-report.js';
import { recordAudit } from './audit.js';
import { namedActor } from './editions.js';
import type { Actor, NamedActor } from './editions.js';

/** A running trial whose process has written nothing for this long has lost its process. */
const SILENT_MS = 20_000;

export type TrialState = 'running' | 'done' | 'cancelled' | 'failed' | 'interrupted';

/** What a trial asks. Times of receipt in ms since the epoch; `toMs` is exclusive. */
export interface TrialRequest {
  readonly configuration: Partial<SiteRules>;
  readonly fromMs: number;
  readonly toMs: number;
  /** Readings that each line of the report names, at most. */
  readonly examples: number;
}

export interface TrialRecord extends TrialRequest {
  readonly trialId: string;
  readonly requestedMs: number;
  readonly requestedBy: NamedActor | null;
  readonly state: TrialState;
  readonly endedMs: number | null;
  /** Null: not counted (yet). */
  readonly setsTotal: number | null;
  readonly setsJudged: number;
  readonly result: TrialReport | null;
}

interface TrialRow {
  trial_id: string;
  configuration: Partial<SiteRules>;
  received_from: Date;
  received_to: Date;
  examples: number;
  requested_at: Date;
  client: string;
  person_system: string | null;
  person_value: string | null;
  state: TrialState;
  ended_at: Date | null;
  sets_total: number | null;
  sets_judged: number;
  result: TrialReport | null;
}

const SELECT = `select t.trial_id, t.configuration, t.received_from, t.received_to, t.examples,
    t.requested_at, c.name as client, p.system as person_system, p.value as person_value, t.state, t.ended_at, t.sets_total, t.sets_judged, t.result
  from trials t join clients c on c.client_key = t.requested_by
  left join people p on p.person_key = t.requested_by_person`;

function toRecord(row: TrialRow): TrialRecord {
  return {
    trialId: row.trial_id,
    configuration: row.configuration,
    fromMs: row.received_from.getTime(),
    toMs: row.received_to.getTime(),
    examples: row.examples,
    requestedMs: row.requested_at.getTime(),
    requestedBy: namedActor(row.client, row.person_system, row.person_value),
    state: row.state,
    endedMs: row.ended_at?.getTime() ?? null,
    setsTotal: row.sets_total,
    setsJudged: row.sets_judged,
    result: row.result,
  };
}

/** Keeps a new trial as running. */
export async function insertTrial(
  pool: Pool,
  by: Actor,
  trialId: string,
  request: TrialRequest,
): Promise<void> {
  await pool.query(
    `insert into trials (trial_id, configuration, received_from, received_to, examples, requested_by,
                         requested_by_person, requested_at, seen_at, state)
     values ($1, $2, $3, $4, $5, $6, $7, clock_timestamp(), clock_timestamp(), 'running')`,
    [
      trialId,
      request.configuration,
      new Date(request.fromMs),
      new Date(request.toMs),
      request.examples,
      by.clientKey,
      by.personKey,
    ],
  );
  const entity = `trials/${trialId}`;
  await recordAudit(pool, { ...by, action: 'trial-start', outcome: 202, entity });
}

/** Marks trials whose process is gone; any process may do it. */
async function markInterrupted(pool: Pool): Promise<void> {
  await pool.query(
    `update trials set state = 'interrupted', ended_at = clock_timestamp()
      where state = 'running' and seen_at < clock_timestamp() - $1 * interval '1 ms'`,
    [SILENT_MS],
  );
}

/** The newest trials first. */
export async function listTrials(pool: Pool, limit: number): Promise<TrialRecord[]> {
  await markInterrupted(pool);
  const { rows } = await pool.query<TrialRow>(
    `${SELECT} order by t.requested_at desc, t.trial_id desc limit $1`,
    [limit],
  );
  return rows.map(toRecord);
}

/** The trial of this id; null: there is none. */
export async function findTrial(pool: Pool, trialId: string): Promise<TrialRecord | null> {
  await markInterrupted(pool);
  const { rows } = await pool.query<TrialRow>(`${SELECT} where t.trial_id = $1`, [trialId]);
  return rows[0] === undefined ? null : toRecord(rows[0]);
}

/** Asks whichever process runs it to stop. False: no such trial is running. */
export async function requestCancel(pool: Pool, by: Actor, trialId: string): Promise<boolean> {
  const { rowCount } = await pool.query(
    "update trials set cancel_requested = true where trial_id = $1 and state = 'running'",
    [trialId],
  );
  if (rowCount !== 1) return false;
  const entity = `trials/${trialId}`;
  await recordAudit(pool, { ...by, action: 'trial-cancel', outcome: 202, entity });
  return true;
}

/** Writes how far a trial is. False: it is to stop. */
export async function reportProgress(
  pool: Pool,
  trialId: string,
  progress: { readonly setsTotal: number | null; readonly setsJudged: number },
): Promise<boolean> {
  const { rows } = await pool.query<{ cancel_requested: boolean }>(
    `update trials set sets_total = $2, sets_judged = $3, seen_at = clock_timestamp()
      where trial_id = $1 and state = 'running' returning cancel_requested`,
    [trialId, progress.setsTotal, progress.setsJudged],
  );
  return rows[0]?.cancel_requested === false;
}

/** Ends a trial that is still running, with what it has found so far. */
export async function endTrial(
  pool: Pool,
  trialId: string,
  end: {
    readonly state: Exclude<TrialState, 'running'>;
    readonly setsJudged: number;
    readonly result: TrialReport;
  },
): Promise<void> {
  await pool.query(
    `update trials set state = $2, sets_judged = $3, result = $4, ended_at = clock_timestamp()
      where trial_id = $1 and state = 'running'`,
    [trialId, end.state, end.setsJudged, end.result],
  );
}
