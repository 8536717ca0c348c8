/** How published versions of readings came to be: from their rows, their submissions, and the decisions and merges that changed them. */
import type { Pool } from 'pg';
import type { DecisionAction, ReasonCode } from '../vitals/decisions.js';
import type { HoldKind, Verdict } from '../vitals/words.js';
import type { HistoryPosition } from './observation-history.js';
import { canMeet, conditionSql as visibilitySql } from './observation-conditions.js';
import type { ObservationCondition } from './observation-conditions.js';
import { ORIGIN_COLUMNS, ORIGIN_JOINS } from './origin-columns.js';
import type { OriginRow } from './origin-columns.js';
import { bytesOf, conditionSql, identifierOf, mergeOf, programOf } from './provenance-search.js';
import type {
  Cause,
  CausingMerge,
  KeptBytes,
  NamedProgram,
  ProvenancePage,
  ProvenanceTarget,
} from './provenance-search.js';
import {
  READING_ID,
  SHOWN_OF_READINGS,
  asShown,
  fromShown,
  hasSql,
  orderOf,
  shownBy,
} from './shown-observations.js';
import type { Branch, ShownOfReading, ShownReading } from './shown-observations.js';
import { toReadingVersion } from './reading-rows.js';
import { SqlValues } from './sql-values.js';

export interface CausingDecision extends Cause {
  readonly action: DecisionAction;
  readonly reasonCode: ReasonCode;
}

/** A published version of a reading, as one of the Observations that it is shown as, and what made it. */
export interface ReadingOrigin {
  readonly version: ShownReading;
  /** The version that was published before it. */
  readonly previous: number | null;
  /** The version before it, published or not. */
  readonly before: {
    readonly verdict: Verdict;
    readonly hold: HoldKind | null;
    readonly findings: number;
  } | null;
  readonly source: NamedProgram;
  /** What brought the reading. */
  readonly submission: KeptBytes | null;
  /** The program that sent the submission; null: it came as a message. */
  readonly sender: NamedProgram | null;
  readonly decision: CausingDecision | null;
  readonly merge: CausingMerge | null;
  /** Its row could not be read when it came, but by a later mapping. */
  readonly readLater: boolean;
  /** The reading that was withdrawn because it stood under the wrong patient, and the version that says so. */
  readonly replaces: { readonly readingId: string; readonly version: number } | null;
}

function decisionOf(row: OriginRow): CausingDecision | null {
  const { action, reason, reason_code: reasonCode, decision_id: id, decision_sha256: sha256 } = row;
  if (action === null || reason === null || reasonCode === null) return null;
  return {
    ...{ action, reason, reasonCode },
    program: programOf(row.decider_id, row.decider_name),
    person: identifierOf(row.person_system, row.person_value),
    kept: bytesOf(id, sha256),
  };
}

function beforeOf(row: OriginRow): ReadingOrigin['before'] {
  const { before_verdict: verdict, before_hold: hold, before_findings: findings } = row;
  return verdict === null ? null : { verdict, hold, findings: findings ?? 0 };
}

function toOrigin(row: OriginRow): ReadingOrigin {
  const { replaced_id: readingId, replaced_version: replaced } = row;
  return {
    version: asShown(toReadingVersion(row), row.shown),
    previous: row.previous,
    before: beforeOf(row),
    source: { id: row.source_id, name: row.source },
    submission: bytesOf(row.whole_id, row.sha256),
    sender: programOf(row.sender_id, row.sender_name),
    decision: decisionOf(row),
    merge: mergeOf(row),
    readLater: row.read_later,
    replaces: readingId === null || replaced === null ? null : { readingId, version: replaced },
  };
}

/** Versions that are asked for, of those that somebody may see. */
export interface OriginSearch {
  readonly conditions: ProvenancePage['conditions'];
  /** What narrows them to what may be seen. */
  readonly visible: readonly ObservationCondition[];
}

const COLUMNS = { stamp: 'r.stamp', id: READING_ID, version: 'r.version' };
const ORDER = [COLUMNS.stamp, COLUMNS.id, COLUMNS.version];

/** Published versions and what made them, a page in order. */
export async function findReadingOrigins(
  pool: Pool,
  { descending, after, limit, ...search }: ProvenancePage & OriginSearch,
): Promise<ReadingOrigin[]> {
  const values = new SqlValues();
  const branches = branchesOf(search, values).map(({ shown, demands }) => ({
    shown,
    demands: after === null ? demands : [...demands, beyond(after, shown, descending, values)],
  }));
  if (branches.length === 0) return [];
  const direction = descending ? ('desc' as const) : ('asc' as const);
  const order = ORDER.map((column) => ({ column, direction }));
  const { rows } = await pool.query<OriginRow>(
    `select ${ORIGIN_COLUMNS}
       from ${fromShown(branches, order, values.bind(limit, 'bigint'), ORIGIN_JOINS)}`,
    values.list,
  );
  return rows.map(toOrigin);
}

/** How many published versions meet the conditions. */
export async function countReadingOrigins(pool: Pool, search: OriginSearch): Promise<number> {
  const values = new SqlValues();
  const counts = branchesOf(search, values).map(
    ({ demands }) => `(select count(*)::int from readings r where ${demands.join(' and ')})`,
  );
  const { rows } = await pool.query<{ count: number }>(
    `select ${['0', ...counts].join(' + ')} as count`,
    values.list,
  );
  return rows[0]?.count ?? 0;
}

type ReadingBranch = Branch & { readonly shown: ShownOfReading };

/** What can match at all, each with its demands. */
function branchesOf({ conditions, visible }: OriginSearch, values: SqlValues): ReadingBranch[] {
  const targets = conditions.flatMap((one) => (one.on === 'target' ? [one.targets] : []));
  const isAsked = (shown: ShownOfReading): boolean =>
    targets.every((list) => list.some((target) => keyAs(shown, target) !== null)) &&
    visible.every((one) => canMeet(one, shown));
  return SHOWN_OF_READINGS.filter(isAsked).map((shown) => ({
    shown,
    demands: [
      'r.status is not null',
      ...(shown === 'reading' ? [] : [hasSql(shown)]),
      ...conditions.map((one) =>
        conditionSql(one, COLUMNS, (target) => keyAs(shown, target), values),
      ),
      ...visible.map((one) => visibilitySql(one, { shown, asOfMs: Date.now() }, values)),
    ],
  }));
}

function keyAs(shown: ShownOfReading, { type, id }: ProvenanceTarget): string | null {
  const of = type === 'Patient' ? null : shownBy(id);
  return of?.as === shown ? of.rowId : null;
}

/** After a row in the order of the page; what it was shown as stands between id and version. */
function beyond(
  { keyMs, id, version }: HistoryPosition,
  shown: ShownOfReading,
  descending: boolean,
  values: SqlValues,
): string {
  const last = shownBy(id);
  if (last === null) throw new Error('a page goes on after something that is shown nowhere');
  const place = [values.bindTime(keyMs), values.bind(last.rowId, 'uuid')];
  const order = orderOf(shown, last.as) * (descending ? -1 : 1);
  if (order === 0) place.push(values.bind(version, 'smallint'));
  const comparison = (descending ? '<' : '>') + (order > 0 ? '=' : '');
  return `(${ORDER.slice(0, place.length).join(', ')}) ${comparison} (${place.join(', ')})`;
}
