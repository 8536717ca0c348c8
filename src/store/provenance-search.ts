/** What all provenance is told with, and how versions are asked for. */
import type { Identifier } from '../vitals/shapes.js';
import { timeRangeSql } from './sql-values.js';
import type { SqlValues } from './sql-values.js';
import type { HistoryPosition } from './observation-history.js';
import type { TimeRange } from './observation-conditions.js';

/** A program that may send and decide, or a source. */
export interface NamedProgram {
  readonly id: string;
  readonly name: string;
}

/** Bytes that were kept. */
export interface KeptBytes {
  readonly submissionId: string;
  readonly sha256: Buffer;
}

/** Who decided, and why; nobody named: a message did. */
export interface Cause {
  readonly reason: string;
  readonly program: NamedProgram | null;
  readonly person: Identifier | null;
  /** As it was sent. */
  readonly kept: KeptBytes | null;
}

export interface CausingMerge extends Cause {
  /** Of the message that merged. */
  readonly source: NamedProgram | null;
  readonly undone: boolean;
  /** The patient on the other side of it. */
  readonly otherPatientId: string;
}

/** Versions that are asked for. */
export interface ProvenanceTarget {
  /** Null: of either type. */
  readonly type: 'Observation' | 'Patient' | null;
  /** Of an Observation also one that is calculated: `READING-ID.kind`. */
  readonly id: string;
  /** Null: every version. */
  readonly version: number | null;
}

/** One demand; its list holds alternatives. */
export type ProvenanceCondition =
  | { readonly on: 'target'; readonly targets: readonly ProvenanceTarget[] }
  | { readonly on: 'recorded'; readonly ranges: readonly TimeRange[] };

export interface ProvenancePage {
  readonly conditions: readonly ProvenanceCondition[];
  /** By the time of recording, and then by id and version. */
  readonly descending: boolean;
  readonly after: HistoryPosition | null;
  /** Null: all of them. */
  readonly limit: number | null;
}

/** Where the versions of a type lie. */
export interface VersionColumns {
  readonly stamp: string;
  readonly id: string;
  readonly version: string;
}

/** A version, or every one, of what lies under a UUID. */
interface KeyedTarget {
  readonly key: string;
  readonly version: number | null;
}

/**
 * What a condition demands of versions.
 * @param keyOf the UUID that a target leads to among them; null: to none
 */
export function conditionSql(
  condition: ProvenanceCondition,
  columns: VersionColumns,
  keyOf: (target: ProvenanceTarget) => string | null,
  values: SqlValues,
): string {
  if (condition.on === 'recorded') {
    return anyOf(condition.ranges.map((range) => timeRangeSql(columns.stamp, range, values)));
  }
  const keyed = condition.targets.flatMap((target) => {
    const key = keyOf(target);
    return key === null ? [] : [{ key, version: target.version }];
  });
  return targetsSql(keyed, columns, values);
}

function targetsSql(
  targets: readonly KeyedTarget[],
  { id, version }: VersionColumns,
  values: SqlValues,
): string {
  const every = targets.filter((one) => one.version === null).map(({ key }) => key);
  const single = targets.filter((one) => one.version !== null);
  const keys = single.map(({ key }) => key);
  const versions = single.map((one) => one.version);
  return anyOf([
    ...(every.length === 0 ? [] : [`${id} = any(${values.bind(every, 'uuid[]')})`]),
    ...(single.length === 0
      ? []
      : [
          // The first alone finds the rows; the second chooses among them.
          `(${id} = any(${values.bind(keys, 'uuid[]')}) and (${id}, ${version}) in (
             select * from unnest(${values.bind(keys, 'uuid[]')}, ${values.bind(versions, 'smallint[]')})))`,
        ]),
  ]);
}

function anyOf(alternatives: readonly string[]): string {
  return alternatives.length === 0 ? 'false' : `(${alternatives.join(' or ')})`;
}

export function programOf(id: string | null, name: string | null): NamedProgram | null {
  return id === null || name === null ? null : { id, name };
}

export function bytesOf(submissionId: string | null, sha256: Buffer | null): KeptBytes | null {
  return submissionId === null || sha256 === null ? null : { submissionId, sha256 };
}

export function identifierOf(system: string | null, value: string | null): Identifier | null {
  return system === null || value === null ? null : { system, value };
}

/** Columns and joins of the merge `m` that made a version; `m.undone`: its undoing did. */
export const MERGE_COLUMNS = `m.undone, m.other_patient_id,
  case when m.undone then m.undone_reason else m.reason end as merge_reason,
  mc.client_id as merger_id, mc.name as merger_name,
  mp.system as merger_system, mp.value as merger_value,
  coalesce(ms.part_of, ms.submission_id) as merge_submission_id, ms.sha256 as merge_sha256,
  mss.source_id as merge_source_id, mss.name as merge_source`;
export const MERGE_JOINS = `
  left join clients mc on mc.client_key = case when m.undone then m.undone_by else m.client_key end
  left join people mp on mp.person_key = m.person_key and not m.undone
  left join submissions ms on ms.submission_id = m.submission_id and not m.undone
  left join sources mss on mss.source_key = ms.source_key`;

export interface MergeRow {
  undone: boolean | null;
  other_patient_id: string | null;
  merge_reason: string | null;
  merger_id: string | null;
  merger_name: string | null;
  merger_system: string | null;
  merger_value: string | null;
  merge_submission_id: string | null;
  merge_sha256: Buffer | null;
  merge_source_id: string | null;
  merge_source: string | null;
}

export function mergeOf(row: MergeRow): CausingMerge | null {
  const { undone, other_patient_id: otherPatientId } = row;
  if (undone === null || otherPatientId === null) return null;
  return {
    ...{ undone, otherPatientId, reason: row.merge_reason ?? '' },
    program: programOf(row.merger_id, row.merger_name),
    person: identifierOf(row.merger_system, row.merger_value),
    kept: bytesOf(row.merge_submission_id, row.merge_sha256),
    source: programOf(row.merge_source_id, row.merge_source),
  };
}
