/** How the versions of panels came to be: the gateway put them together from the readings of a set. */
import type { Pool } from 'pg';
import { canMeet, conditionSql as visibilitySql } from './observation-conditions.js';
import type { HistoryPosition } from './observation-history.js';
import { bytesOf, conditionSql } from './provenance-search.js';
import type { KeptBytes, ProvenancePage, ProvenanceTarget } from './provenance-search.js';
import type { OriginSearch } from './reading-origins.js';
import { READING_DICTIONARIES, toPanelVersion } from './reading-rows.js';
import type { PanelRow } from './reading-rows.js';
import {
  READING_ID,
  SHOWN_COLUMNS,
  asPanel,
  fromShown,
  orderOf,
  rowsOf,
  shownBy,
} from './shown-observations.js';
import type { ShownPanel } from './shown-observations.js';
import { SqlValues } from './sql-values.js';

/** A version of a panel, and what brought its set. */
export interface PanelOrigin {
  readonly version: ShownPanel;
  readonly submission: KeptBytes | null;
}

type OriginRow = PanelRow & { whole_id: string | null; sha256: Buffer | null };

const COLUMNS = { stamp: 'r.stamp', id: READING_ID, version: 'r.version' };
const ORDER = [COLUMNS.stamp, COLUMNS.id, COLUMNS.version];

const JOINS = `${READING_DICTIONARIES}
  left join submissions u on u.submission_id = (left(r.reading_id::text, -4) || '0000')::uuid`;

/** Versions of panels and what brought their sets, a page in order. */
export async function findPanelOrigins(
  pool: Pool,
  { descending, after, limit, ...search }: ProvenancePage & OriginSearch,
): Promise<PanelOrigin[]> {
  const values = new SqlValues();
  const demands = demandsOf(search, values);
  if (demands === null) return [];
  if (after !== null) demands.push(beyond(after, descending, values));
  const direction = descending ? ('desc' as const) : ('asc' as const);
  const order = ORDER.map((column) => ({ column, direction }));
  const { rows } = await pool.query<OriginRow>(
    `select ${SHOWN_COLUMNS}, coalesce(u.part_of, u.submission_id) as whole_id, u.sha256
       from ${fromShown([{ shown: 'panel', demands }], order, values.bind(limit, 'bigint'), JOINS)}`,
    values.list,
  );
  return rows.map((row) => ({
    version: asPanel(toPanelVersion(row)),
    submission: bytesOf(row.whole_id, row.sha256),
  }));
}

/** How many versions of panels meet the conditions. */
export async function countPanelOrigins(pool: Pool, search: OriginSearch): Promise<number> {
  const values = new SqlValues();
  const demands = demandsOf(search, values);
  if (demands === null) return 0;
  const { rows } = await pool.query<{ count: number }>(
    `select count(*)::int as count from ${rowsOf('panel')} where ${demands.join(' and ')}`,
    values.list,
  );
  return rows[0]?.count ?? 0;
}

/** Null: no panel can match. */
function demandsOf({ conditions, visible }: OriginSearch, values: SqlValues): string[] | null {
  const isAsked =
    conditions.every(
      (one) => one.on !== 'target' || one.targets.some((of) => keyOf(of) !== null),
    ) && visible.every((one) => canMeet(one, 'panel'));
  if (!isAsked) return null;
  const moment = { shown: 'panel' as const, asOfMs: Date.now() };
  return [
    'true',
    ...conditions.map((one) => conditionSql(one, COLUMNS, keyOf, values)),
    ...visible.map((one) => visibilitySql(one, moment, values)),
  ];
}

function keyOf({ type, id }: ProvenanceTarget): string | null {
  const of = type === 'Patient' ? null : shownBy(id);
  return of?.as === 'panel' ? of.rowId : null;
}

/** After a row in the order of the page. */
function beyond(
  { keyMs, id, version }: HistoryPosition,
  descending: boolean,
  values: SqlValues,
): string {
  const last = shownBy(id);
  if (last === null) throw new Error('a page goes on after something that is shown nowhere');
  const place = [values.bindTime(keyMs), values.bind(last.rowId, 'uuid')];
  // Nothing else has the id of a panel.
  if (orderOf('panel', last.as) === 0) place.push(values.bind(version, 'smallint'));
  return `(${ORDER.slice(0, place.length).join(', ')}) ${descending ? '<' : '>'} (${place.join(', ')})`;
}
