/** How the versions of registered patients came to be. */
import type { Pool } from 'pg';
import type { HistoryPosition } from './observation-history.js';
import {
  MERGE_COLUMNS,
  MERGE_JOINS,
  bytesOf,
  conditionSql,
  mergeOf,
  programOf,
} from './provenance-search.js';
import type {
  CausingMerge,
  KeptBytes,
  MergeRow,
  NamedProgram,
  ProvenancePage,
  ProvenanceTarget,
} from './provenance-search.js';
import { shownBy } from './shown-observations.js';
import { SqlValues } from './sql-values.js';

/** A version of a patient, and what made it; nobody named and no merge: it is from before that was kept. */
export interface PatientOrigin {
  readonly id: string;
  readonly version: number;
  readonly stampMs: number;
  /** The program that registered it so. */
  readonly program: NamedProgram | null;
  /** The message that registered it so, and its source. */
  readonly submission: KeptBytes | null;
  readonly source: NamedProgram | null;
  /** The merge that only added or took away a link. */
  readonly merge: CausingMerge | null;
}

interface OriginRow extends MergeRow {
  patient_id: string;
  version: number;
  stamp: Date;
  client_id: string | null;
  client_name: string | null;
  submission_id: string | null;
  sha256: Buffer | null;
  source_id: string | null;
  source: string | null;
}

const COLUMNS = `p.patient_id, v.version, v.stamp, c.client_id, c.name as client_name,
  coalesce(u.part_of, u.submission_id) as submission_id, u.sha256, s.source_id, s.name as source,
  ${MERGE_COLUMNS}`;

const TABLES = 'patient_versions v join patients p on p.patient_key = v.patient_key';

const JOINS = `
  left join clients c on c.client_key = v.client_key
  left join submissions u on u.submission_id = v.submission_id
  left join sources s on s.source_key = u.source_key
  left join lateral (
    select g.undone_stamp is not distinct from v.stamp as undone, g.*, o.patient_id as other_patient_id
      from merges g
      join patients o on o.patient_key = case when g.retired_key = v.patient_key then g.survivor_key else g.retired_key end
     where v.client_key is null and v.submission_id is null
       and (g.stamp = v.stamp or g.undone_stamp = v.stamp)
       and v.patient_key in (g.retired_key, g.survivor_key)
     limit 1) m on true ${MERGE_JOINS}`;

function toOrigin(row: OriginRow): PatientOrigin {
  return {
    id: row.patient_id,
    version: row.version,
    stampMs: row.stamp.getTime(),
    program: programOf(row.client_id, row.client_name),
    submission: bytesOf(row.submission_id, row.sha256),
    source: programOf(row.source_id, row.source),
    merge: mergeOf(row),
  };
}

const PLACES = { stamp: 'v.stamp', id: 'p.patient_id', version: 'v.version' };
const ORDER = [PLACES.stamp, PLACES.id, PLACES.version];

/** Of a target that is a Patient; an id without a type may be one. Ids of patients and readings look alike. */
function keyOf({ type, id }: ProvenanceTarget): string | null {
  return type === 'Observation' || shownBy(id)?.rowId !== id ? null : id;
}

function demandsOf(conditions: ProvenancePage['conditions'], values: SqlValues): string[] {
  return ['true', ...conditions.map((one) => conditionSql(one, PLACES, keyOf, values))];
}

/** Versions of patients and what made them, a page in order. */
export async function findPatientOrigins(
  pool: Pool,
  { conditions, descending, after, limit }: ProvenancePage,
): Promise<PatientOrigin[]> {
  const values = new SqlValues();
  const demands = demandsOf(conditions, values);
  if (after !== null) demands.push(beyond(after, descending, values));
  const direction = descending ? 'desc' : 'asc';
  const { rows } = await pool.query<OriginRow>(
    `select ${COLUMNS} from ${TABLES} ${JOINS} where ${demands.join(' and ')}
      order by ${ORDER.map((column) => `${column} ${direction}`).join(', ')}
      limit ${values.bind(limit, 'bigint')}`,
    values.list,
  );
  return rows.map(toOrigin);
}

function beyond(
  { keyMs, id, version }: HistoryPosition,
  descending: boolean,
  values: SqlValues,
): string {
  const key = shownBy(id)?.rowId ?? id;
  const place = [
    values.bindTime(keyMs),
    values.bind(key, 'uuid'),
    values.bind(version, 'smallint'),
  ];
  return `(${ORDER.join(', ')}) ${descending ? '<' : '>'} (${place.join(', ')})`;
}

/** How many versions of patients meet the conditions. */
export async function countPatientOrigins(
  pool: Pool,
  conditions: ProvenancePage['conditions'],
): Promise<number> {
  const values = new SqlValues();
  const { rows } = await pool.query<{ count: number }>(
    `select count(*)::int as count from ${TABLES} where ${demandsOf(conditions, values).join(' and ')}`,
    values.list,
  );
  return rows[0]?.count ?? 0;
}
