/** Searching the audit trail. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { firstAuditIdAt, recordedMsOf } from './audit.js';
import { identifiedSql } from './identifier-token.js';
import type { IdentifierToken } from './identifier-token.js';
import type { TimeRange } from './observation-conditions.js';
import { identifierOf, programOf } from './provenance-search.js';
import type { NamedProgram } from './provenance-search.js';
import { boundSearch } from './review-bounds.js';
import { SqlValues } from './sql-values.js';

/** An entry with the names of what it points to. Times in ms since the epoch. */
export interface KeptAudit {
  readonly id: string;
  readonly recordedMs: number;
  /** When it happened. */
  readonly atMs: number;
  readonly action: string;
  /** HTTP status; 0: the client left before an answer began. */
  readonly outcome: number;
  readonly entity: string | null;
  readonly patientId: string | null;
  readonly requestId: string | null;
  readonly address: string | null;
  readonly detail: Readonly<Record<string, unknown>>;
  readonly client: NamedProgram | null;
  readonly person: Identifier | null;
  /** Of the message that did it, where one did. */
  readonly source: NamedProgram | null;
  /** The process that wrote it. */
  readonly writerId: string | null;
}

/** One demand on an entry; its list holds alternatives. */
export type AuditCondition =
  | { readonly on: 'id'; readonly ids: readonly string[] }
  | { readonly on: 'recorded'; readonly ranges: readonly TimeRange[] }
  | { readonly on: 'patient'; readonly ids: readonly string[] }
  /** Ids of clients and of people. */
  | { readonly on: 'agent'; readonly ids: readonly string[] }
  | {
      readonly on: 'agent-identifier';
      readonly clientIds: readonly string[];
      readonly people: readonly IdentifierToken[];
    }
  | {
      readonly on: 'entity';
      readonly entities: readonly string[];
      readonly patientIds: readonly string[];
    }
  | { readonly on: 'action'; readonly sets: readonly ActionSet[] }
  | { readonly on: 'outcome'; readonly codes: readonly string[] };

/** Actions that match a regular expression (null: all of them) and none of some others. */
export interface ActionSet {
  readonly like: string | null;
  readonly unlike: readonly string[];
}

export interface AuditPage {
  readonly conditions: readonly AuditCondition[];
  /** By the moment of recording. */
  readonly descending: boolean;
  readonly afterId: string | null;
  readonly limit: number;
}

interface AuditRow {
  audit_id: string;
  at: Date;
  action: string;
  outcome: number;
  entity: string | null;
  patient_id: string | null;
  request_id: string | null;
  address: string | null;
  detail: Record<string, unknown> | null;
  client_id: string | null;
  client_name: string | null;
  person_system: string | null;
  person_value: string | null;
  writer_id: string | null;
  source_id: string | null;
  source: string | null;
}

function toKept(row: AuditRow): KeptAudit {
  const { client_id: id, client_name: name, person_system: system, person_value: value } = row;
  return {
    id: row.audit_id,
    recordedMs: recordedMsOf(row.audit_id),
    atMs: row.at.getTime(),
    ...{ action: row.action, outcome: row.outcome, entity: row.entity, address: row.address },
    patientId: row.patient_id,
    requestId: row.request_id,
    detail: row.detail ?? {},
    client: programOf(id, name),
    person: identifierOf(system, value),
    source: programOf(row.source_id, row.source),
    writerId: row.writer_id,
  };
}

/** The message that an entry names: as what it is about, or as what brought it about. */
const SUBMISSION_SQL = `(case
  when a.entity ~ '^submissions/[0-9a-f-]{36}$' then substr(a.entity, 13)
  when a.detail ->> 'submission' ~ '^[0-9a-f-]{36}$' then a.detail ->> 'submission' end)::uuid`;

/** Entries that meet every condition, a page in the order in which they were recorded. */
export async function findAudit(
  pool: Pool,
  { conditions, descending, afterId, limit }: AuditPage,
): Promise<KeptAudit[]> {
  const values = new SqlValues();
  const patients = conditions.find((one) => one.on === 'patient');
  const others = conditions.filter((one) => one !== patients);
  const demands = ['true', ...others.map((one) => conditionSql(one, values))];
  if (afterId !== null) {
    demands.push(`a.audit_id ${descending ? '<' : '>'} ${values.bind(afterId, 'uuid')}`);
  }
  const order = `a.audit_id ${descending ? 'desc' : 'asc'}`;
  const first = `order by ${order} limit ${values.bind(limit)}`;
  const page = `select a.* from audit a where ${demands.join(' and ')}`;
  // Patient by patient: else a page could be looked for from the newest entry down, through years.
  const found =
    patients === undefined
      ? page
      : `select a.* from (${familySql(patients.ids, values)}) f cross join lateral (
           ${page} and a.patient_key = f.patient_key ${first}) a`;
  const { rows } = await boundSearch(
    pool.query<AuditRow>(
      `select a.audit_id, a.at, a.action, a.outcome, a.entity, p.patient_id, a.request_id, a.address,
              a.detail, c.client_id, c.name as client_name, w.system as person_system,
              w.value as person_value, x.writer_id, s.source_id, s.name as source
         from (${found} ${first}) a
         left join patients p on p.patient_key = a.patient_key
         left join clients c on c.client_key = a.client_key
         left join people w on w.person_key = a.person_key
         left join audit_writers x on x.writer_key = a.writer_key
         left join submissions u on a.client_key is null and u.submission_id = ${SUBMISSION_SQL}
         left join sources s on s.source_key = u.source_key
        order by ${order}`,
      values.list,
    ),
  );
  return rows.map(toKept);
}

/** How many entries meet every condition. */
export async function countAudit(
  pool: Pool,
  conditions: readonly AuditCondition[],
): Promise<number> {
  const values = new SqlValues();
  const demands = ['true', ...conditions.map((one) => conditionSql(one, values))];
  const { rows } = await boundSearch(
    pool.query<{ count: number }>(
      `select count(*)::int as count from audit a where ${demands.join(' and ')}`,
      values.list,
    ),
  );
  return rows[0]?.count ?? 0;
}

function conditionSql(condition: AuditCondition, values: SqlValues): string {
  switch (condition.on) {
    case 'id':
      return `a.audit_id = any(${values.bind(condition.ids, 'uuid[]')})`;
    case 'recorded':
      return anyOf(condition.ranges.map((range) => rangeSql(range, values)));
    case 'patient':
      return patientSql(condition.ids, values);
    case 'agent': {
      const ids = values.bind(condition.ids, 'text[]');
      return `(a.client_key = any(array(select client_key from clients where client_id = any(${ids})))
            or a.person_key = any(array(select person_key from people where person_id = any(${ids}::uuid[]))))`;
    }
    case 'agent-identifier':
      return agentSql(condition.clientIds, condition.people, values);
    case 'entity': {
      const { entities, patientIds } = condition;
      // The index leaves out what is about submissions, in these very words.
      const named = `(a.entity = any(${values.bind(entities, 'text[]')}) and a.entity not like 'submissions/%')`;
      return anyOf([named, ...(patientIds.length === 0 ? [] : [patientSql(patientIds, values)])]);
    }
    case 'action':
      return anyOf(condition.sets.map((set) => actionSql(set, values)));
    case 'outcome':
      return `${OUTCOME_SQL} = any(${values.bind(condition.codes, 'text[]')})`;
  }
}

/** The code of FHIR R4 for what came of it: 12 where the process itself came to an end. */
const OUTCOME_SQL = `(case when a.action = 'process-lost' then '12'
  when a.outcome between 200 and 399 then '0' when a.outcome >= 500 then '8' else '4' end)`;

function anyOf(alternatives: readonly string[]): string {
  return alternatives.length === 0 ? 'false' : `(${alternatives.join(' or ')})`;
}

function actionSql({ like, unlike }: ActionSet, values: SqlValues): string {
  const matches = (one: string): string => `a.action ~ ${values.bind(one)}`;
  const demands = [
    ...(like === null ? [] : [matches(like)]),
    ...unlike.map((one) => `not ${matches(one)}`),
  ];
  return demands.length === 0 ? 'true' : `(${demands.join(' and ')})`;
}

function rangeSql({ fromMs, toMs }: TimeRange, values: SqlValues): string {
  const ends = [
    ...(fromMs === null ? [] : [`a.audit_id >= ${values.bind(firstAuditIdAt(fromMs), 'uuid')}`]),
    ...(toMs === null ? [] : [`a.audit_id < ${values.bind(firstAuditIdAt(toMs), 'uuid')}`]),
  ];
  return ends.length === 0 ? 'true' : `(${ends.join(' and ')})`;
}

/** The patients, and the registrations that were merged into them since. */
function familySql(ids: readonly string[], values: SqlValues): string {
  return `select p.patient_key from patients p where p.patient_id = any(${values.bind(ids, 'uuid[]')})
    union
    select q.patient_key from patients p join patients q on q.merged_into = p.patient_key
     where p.patient_id = any(${values.bind(ids, 'uuid[]')})`;
}

function patientSql(ids: readonly string[], values: SqlValues): string {
  return `(a.patient_key is not null and a.patient_key = any(array(${familySql(ids, values)})))`;
}

function agentSql(
  clientIds: readonly string[],
  people: readonly IdentifierToken[],
  values: SqlValues,
): string {
  const list = values.bind(clientIds, 'text[]');
  return `(a.client_key = any(array(select client_key from clients where client_id = any(${list})))
        or a.person_key = any(array(select w.person_key from people w where ${identifiedSql('w', people, values)})))`;
}
