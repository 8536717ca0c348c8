/** What an analyst searches readings by, as SQL. */
import type { ReasonCode } from '../vitals/decisions.js';
import type { Identifier } from '../vitals/shapes.js';
import type { Verdict, Vital } from '../vitals/words.js';
import { timeRangeSql } from './sql-values.js';
import type { SqlValues } from './sql-values.js';

/** Where a reading stands in review. */
export const REVIEW_STATES = [
  /** Held, and nobody downstream sees it. */
  'waiting',
  /** Held, and out as preliminary. */
  'out',
  /** No longer held, and a person decided about it. */
  'decided',
  /** Rejected by the rules, and nobody has decided about it. */
  'rejected',
] as const;
export type ReviewState = (typeof REVIEW_STATES)[number];

export type ReviewSort = 'urgency' | 'newest';

/** From (inclusive) to (exclusive), in ms since the epoch; null: without end. */
interface TimeRange {
  readonly fromMs: number | null;
  readonly toMs: number | null;
}

/** A device or patient as somebody knows it by heart: without the numbering, whatever numbering it is of. */
export type NamedLoosely = Identifier | Pick<Identifier, 'value'>;

/** One search. What is left out is not asked. */
export interface ReviewSearch {
  readonly state?: ReviewState | undefined;
  /** Any of these; one at least, and none that the state rules out. */
  readonly verdicts: readonly Verdict[];
  readonly critical?: boolean | undefined;
  /** Any of these. */
  readonly vitals?: readonly Vital[] | undefined;
  readonly rule?: string | undefined;
  readonly source?: string | undefined;
  /** This place and every place inside it. */
  readonly location?: string | undefined;
  readonly device?: NamedLoosely | undefined;
  readonly patient?: NamedLoosely | undefined;
  /** A decision about it gave this reason. */
  readonly reasonCode?: ReasonCode | undefined;
  /** When the reading was taken. */
  readonly taken: TimeRange;
  /** When its newest version was made; for decided ones, when it was last decided about. */
  readonly changed: TimeRange;
  /** By urgency only what is held can be ordered. */
  readonly sort: ReviewSort;
}

/** Rows of a search, and what they are ordered by. The newest version of a reading is `r`. */
export interface ReviewRows {
  readonly from: string;
  readonly where: string;
  /** Null: the order knows no ranks. */
  readonly rank: string | null;
  readonly at: string;
  readonly id: string;
  readonly descending: boolean;
}

/**
 * Critical before other, unpublished before published: 0 to 3. This and {@link DUE} are the
 * expressions of the index `readings_by_urgency`, word for word.
 */
const RANK =
  '(case when r.critical then 0 else 2 end + case when r.status is null then 0 else 1 end)';

/** When it goes out by itself; when it went out; and what never goes out by itself is due since it is held. */
const DUE = '(coalesce(r.hold_until, r.stamp))';

const DECIDED = 'exists (select from decisions x where x.reading_id = r.reading_id)';

/** The verdicts that readings of a state can have. */
export const STATE_VERDICTS: Readonly<Record<ReviewState, readonly Verdict[]>> = {
  waiting: ['held'],
  out: ['held'],
  decided: ['accepted', 'noted', 'rejected'],
  rejected: ['rejected'],
};

/** What a state asks beyond its verdicts. */
const STATE_SQL: Readonly<Record<ReviewState, string>> = {
  waiting: 'r.status is null',
  out: 'r.status is not null',
  decided: 'true',
  rejected: `not ${DECIDED}`,
};

/** The rows that a search finds; its values are bound in `values`. */
export function reviewRows(search: ReviewSearch, values: SqlValues): ReviewRows {
  const table = search.state === 'decided' ? DECIDED_ROWS : READING_ROWS;
  const demands = [
    'r.superseded is null',
    ...demandsOf(search, values),
    timeRangeSql('r.effective_at', search.taken, values),
    timeRangeSql(table.at, search.changed, values),
    ...table.demands,
  ];
  const rows = { from: table.from, where: demands.join(' and '), id: table.id };
  return search.sort === 'urgency'
    ? { ...rows, rank: RANK, at: DUE, descending: false }
    : { ...rows, rank: null, at: table.at, descending: true };
}

const READING_ROWS = { from: 'readings r', at: 'r.stamp', id: 'r.reading_id', demands: [] };

/** By way of the decisions, the newest first; a reading decided about more than once comes once. */
const DECIDED_ROWS = {
  from: 'decisions d join readings r on r.reading_id = d.reading_id',
  at: 'd.decided_at',
  id: 'd.reading_id',
  demands: [
    `not exists (select from decisions x
       where x.reading_id = d.reading_id and x.decision_key > d.decision_key)`,
  ],
};

function demandsOf(search: ReviewSearch, values: SqlValues): string[] {
  const { state, verdicts, critical, vitals, rule, source, location, device, patient } = search;
  const { reasonCode } = search;
  return [
    state === undefined ? null : STATE_SQL[state],
    verdictSql(verdicts),
    critical === undefined ? null : `r.critical is ${critical ? 'true' : 'not true'}`,
    vitals === undefined ? null : `r.vital = any(${values.bind(vitals, 'vital[]')})`,
    rule === undefined ? null : `r.findings @> ${values.bind(JSON.stringify([{ rule }]), 'jsonb')}`,
    source === undefined
      ? null
      : `r.source_key = (select source_key from sources where name = ${values.bind(source)})`,
    location === undefined ? null : placeSql('r.place_key', location, values),
    device === undefined ? null : namedSql('device_key', 'devices', device, values),
    patient === undefined ? null : namedSql('patient_key', 'patient_identifiers', patient, values),
    reasonCode === undefined
      ? null
      : `exists (select from decisions y
           where y.reading_id = r.reading_id and y.reason_code = ${values.bind(reasonCode)})`,
  ].filter((demand) => demand !== null);
}

/** Written out, not bound: the planner must see them to prove that a partial index has all rows. */
function verdictSql(verdicts: readonly Verdict[]): string {
  return `r.verdict in (${verdicts.map((verdict) => `'${verdict}'`).join(', ')})`;
}

/** The demand that a place is this one, or lies inside it. */
export function placeSql(column: string, path: string, values: SqlValues): string {
  const [whole, stem] = [values.bind(path), values.bind(`${path}/`)];
  return `${column} = any(array(
    select place_key from places where path = ${whole} or starts_with(path, ${stem})))`;
}

function namedSql(
  key: string,
  table: 'devices' | 'patient_identifiers',
  named: NamedLoosely,
  values: SqlValues,
): string {
  const value = values.bind(named.value);
  if ('system' in named) {
    return `r.${key} = (select ${key} from ${table}
      where system = ${values.bind(named.system)} and value = ${value})`;
  }
  return `r.${key} = any(array(select ${key} from ${table} where value = ${value}))`;
}
