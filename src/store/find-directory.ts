/** What observations point to beside patients: devices, visits, people and places, as they stand now. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { identifiedSql } from './identifier-token.js';
import type { IdentifierToken } from './identifier-token.js';
import type { TimeRange } from './observation-conditions.js';
import { SqlValues, timeRangeSql } from './sql-values.js';

export interface FoundDevice {
  readonly id: string;
  readonly identifier: Identifier;
  /** Null: nobody has registered it. */
  readonly registered: {
    readonly stampMs: number;
    readonly display: string | null;
    readonly type: string | null;
    readonly disabled: boolean;
  } | null;
  readonly placeId: string | null;
  readonly place: string | null;
}

/** A time at a place. Times in ms since the epoch. */
export interface FoundStay {
  readonly fromMs: number;
  /** Null: it has not ended. */
  readonly toMs: number | null;
  readonly placeId: string | null;
  readonly place: string | null;
}

export interface FoundEncounter {
  readonly id: string;
  readonly identifier: Identifier;
  readonly patientId: string;
  /** In order of time; none: no register told of any. */
  readonly stays: readonly FoundStay[];
}

export interface FoundPerson {
  readonly id: string;
  readonly identifier: Identifier;
}

export interface FoundPlace {
  readonly id: string;
  /** From the wide to the narrow, by slashes. */
  readonly path: string;
}

/** One demand; its list holds alternatives. */
export type DirectoryCondition =
  | { readonly on: 'id'; readonly ids: readonly string[] }
  | { readonly on: 'identifier'; readonly tokens: readonly IdentifierToken[] }
  | { readonly on: 'pairs'; readonly identifiers: readonly Identifier[] }
  | { readonly on: 'stamp'; readonly ranges: readonly TimeRange[] }
  | { readonly on: 'patient'; readonly ids: readonly string[] }
  /** Places whose path begins so, in whatever case, or is exactly so. */
  | { readonly on: 'name'; readonly names: readonly string[]; readonly exact: boolean };

/** In the order of their ids. */
export interface DirectoryPage {
  readonly conditions: readonly DirectoryCondition[];
  readonly afterId: string | null;
  readonly limit: number;
}

/** One kind of entry: `x` is the table that it stands in. */
interface Kind<Row, Found> {
  readonly columns: string;
  readonly tables: string;
  readonly id: string;
  readonly toFound: (row: Row) => Found;
}

const DEVICES: Kind<DeviceRow, FoundDevice> = {
  columns: `x.device_id as id, x.system, x.value, v.display, v.type, v.disabled,
    (extract(epoch from v.stamp) * 1000)::bigint::text as stamp_ms, l.place_id, l.path`,
  tables: `devices x
    left join device_versions v on v.device_key = x.device_key and v.superseded is null
    left join places l on l.place_key = v.place_key`,
  id: 'x.device_id',
  toFound: (row) => ({
    id: row.id,
    identifier: { system: row.system, value: row.value },
    registered:
      row.stamp_ms === null
        ? null
        : {
            stampMs: Number(row.stamp_ms),
            display: row.display,
            type: row.type,
            disabled: row.disabled ?? false,
          },
    placeId: row.place_id,
    place: row.path,
  }),
};

interface DeviceRow {
  id: string;
  system: string;
  value: string;
  display: string | null;
  type: string | null;
  disabled: boolean | null;
  stamp_ms: string | null;
  place_id: string | null;
  path: string | null;
}

/** Who was merged into another by now stands for that one. */
const ENCOUNTERS: Kind<EncounterRow, FoundEncounter> = {
  columns: `x.encounter_id as id, x.system, x.value, p.patient_id,
    (select json_agg(json_build_object(
              'fromMs', (extract(epoch from s.from_at) * 1000)::bigint,
              'toMs', (extract(epoch from s.to_at) * 1000)::bigint,
              'placeId', l.place_id, 'place', l.path) order by s.from_at)
       from stays s left join places l on l.place_key = s.place_key
      where s.patient_key in (select m.patient_key from patients m
                               where m.patient_key = p.patient_key or m.merged_into = p.patient_key)
        and s.encounter_key = x.encounter_key and not s.voided) as stays`,
  tables: `encounters x
    join patients own on own.patient_key = x.patient_key
    join patients p on p.patient_key = coalesce(own.merged_into, own.patient_key)`,
  id: 'x.encounter_id',
  toFound: (row) => ({
    id: row.id,
    identifier: { system: row.system, value: row.value },
    patientId: row.patient_id,
    stays: row.stays ?? [],
  }),
};

interface EncounterRow {
  id: string;
  system: string;
  value: string;
  patient_id: string;
  stays: FoundStay[] | null;
}

const PEOPLE: Kind<{ id: string; system: string; value: string }, FoundPerson> = {
  columns: 'x.person_id as id, x.system, x.value',
  tables: 'people x',
  id: 'x.person_id',
  toFound: ({ id, system, value }) => ({ id, identifier: { system, value } }),
};

const PLACES: Kind<{ id: string; path: string }, FoundPlace> = {
  columns: 'x.place_id as id, x.path',
  tables: 'places x',
  id: 'x.place_id',
  toFound: ({ id, path }) => ({ id, path }),
};

/** How entries of one kind are found. */
export interface Directory<Found> {
  readonly find: (pool: Pool, page: DirectoryPage) => Promise<Found[]>;
  readonly count: (pool: Pool, conditions: readonly DirectoryCondition[]) => Promise<number>;
}

function directoryOf<Row extends object, Found>(kind: Kind<Row, Found>): Directory<Found> {
  const { columns, tables, id } = kind;
  return {
    find: async (pool, { conditions, afterId, limit }) => {
      const values = new SqlValues();
      const beyond = afterId === null ? [] : [`${id} > ${values.bind(afterId, 'uuid')}`];
      const where = whereSql([...demandsSql(conditions, id, values), ...beyond]);
      const { rows } = await pool.query<Row>(
        `select ${columns} from ${tables} ${where} order by ${id} limit ${values.bind(limit)}`,
        values.list,
      );
      return rows.map(kind.toFound);
    },
    count: async (pool, conditions) => {
      const values = new SqlValues();
      const where = whereSql(demandsSql(conditions, id, values));
      const { rows } = await pool.query<{ count: number }>(
        `select count(*)::int as count from ${tables} ${where}`,
        values.list,
      );
      return rows[0]?.count ?? 0;
    },
  };
}

export const KNOWN_DEVICES = directoryOf(DEVICES);
export const KNOWN_ENCOUNTERS = directoryOf(ENCOUNTERS);
export const KNOWN_PEOPLE = directoryOf(PEOPLE);
export const KNOWN_PLACES = directoryOf(PLACES);

function whereSql(demands: readonly string[]): string {
  return demands.length === 0 ? '' : `where ${demands.join(' and ')}`;
}

function demandsSql(
  conditions: readonly DirectoryCondition[],
  id: string,
  values: SqlValues,
): string[] {
  return conditions.map((one) => demandSql(one, id, values));
}

/** Not every kind can be asked everything: the search parameters of its type say what. */
function demandSql(condition: DirectoryCondition, id: string, values: SqlValues): string {
  switch (condition.on) {
    case 'id':
      return `${id} = any(${values.bind(condition.ids, 'uuid[]')})`;
    case 'identifier':
      return identifiedSql('x', condition.tokens, values);
    case 'pairs': {
      const column = (part: 'system' | 'value'): string =>
        values.bind(
          condition.identifiers.map((one) => one[part]),
          'text[]',
        );
      return `(x.system, x.value) in (select * from unnest(${column('system')}, ${column('value')}))`;
    }
    case 'stamp':
      return `(${condition.ranges.map((range) => timeRangeSql('v.stamp', range, values)).join(' or ')})`;
    case 'patient':
      return `p.patient_id = any(${values.bind(condition.ids, 'uuid[]')})`;
    case 'name':
      return condition.exact
        ? `x.path = any(${values.bind(condition.names, 'text[]')})`
        : `exists (select from unnest(${values.bind(condition.names, 'text[]')}) as n(start)
                    where starts_with(lower(x.path), lower(n.start)))`;
  }
}
