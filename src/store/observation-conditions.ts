/** What a search can demand of Observations, and how that is said of the rows they are rendered from. */
import { LATE_AFTER_MS } from '../vitals/late-arrival.js';
import type { DerivedKind, Method, ObservationStatus, Part, Site, Vital } from '../vitals/words.js';
import type { IdentifierToken } from './identifier-token.js';
import { memberSql, placedSql } from './place-conditions.js';
import type { PlaceDemand } from './place-conditions.js';
import {
  patientNamedSql,
  patientSql,
  pointedSql,
  subjectNamedSql,
} from './reference-conditions.js';
import type { Pointed, PointedKind } from './reference-conditions.js';
import { hasSql, shownBy } from './shown-observations.js';
import type { Shown } from './shown-observations.js';
import { timeRangeSql } from './sql-values.js';
import type { SqlValues } from './sql-values.js';
import { PART_COLUMNS, absentSql, amountSql, derivedAmountSql } from './value-conditions.js';
import type { AmountRange, Where, WhyAbsent } from './value-conditions.js';

/** From (inclusive) to (exclusive), in ms since the epoch; null: without end. */
export interface TimeRange {
  readonly fromMs: number | null;
  readonly toMs: number | null;
}

/** Readings of one sign; methods and sites null: whatever they are. */
export interface ReadingKind {
  readonly vital: Vital;
  readonly methods: readonly (Method | null)[] | null;
  readonly sites: readonly (Site | null)[] | null;
  /** Only readings that have a value for this part. */
  readonly part: Part | null;
}

/** Readings, what was calculated from them, or panels. */
export type ObservationKind =
  ReadingKind | { readonly derived: DerivedKind } | { readonly panel: true };

/** A value within ranges: of one part of a kind of reading, or calculated. */
export interface ValueDemand {
  readonly of: (ReadingKind & { readonly part: Part }) | { readonly derived: DerivedKind };
  readonly ranges: readonly AmountRange[];
}

type Doubt =
  'unreviewed' | 'unconfirmed' | 'doubtful-signal' | 'unsettled-members' | 'late-arrival';

/** One demand on an Observation; its list holds alternatives, so that an empty one is met by nothing. */
export type ObservationCondition =
  | { readonly on: 'patient'; readonly ids: readonly string[] }
  /** By any identifier that the patient ever had, or by that which the Observation names. */
  | {
      readonly on: 'patient-named';
      readonly tokens: readonly IdentifierToken[];
      readonly by: 'patient' | 'observation';
    }
  | { readonly on: 'pointed'; readonly to: PointedKind; readonly at: Pointed }
  /** Calculated from one of these. */
  | { readonly on: 'derived-from'; readonly ids: readonly string[] }
  /** A panel of one of these. */
  | { readonly on: 'has-member'; readonly ids: readonly string[] }
  | { readonly on: 'method'; readonly methods: readonly Method[] }
  | { readonly on: 'value'; readonly values: readonly ValueDemand[] }
  | { readonly on: 'absent'; readonly where: Where; readonly reasons: readonly WhyAbsent[] }
  | { readonly on: 'id'; readonly ids: readonly string[] }
  | { readonly on: 'kind'; readonly kinds: readonly ObservationKind[] }
  | { readonly on: 'taken'; readonly ranges: readonly TimeRange[] }
  | { readonly on: 'stamp'; readonly ranges: readonly TimeRange[] }
  | { readonly on: 'status'; readonly statuses: readonly ObservationStatus[] }
  | { readonly on: 'doubt'; readonly doubts: readonly Doubt[] }
  | ({ readonly on: 'place-in-set' } & PlaceDemand)
  /** One of these lists of demands is met, all of it. */
  | { readonly on: 'any'; readonly of: readonly (readonly ObservationCondition[])[] };

/** Whether anything that is shown so can meet the condition; if not, its rows need not be looked at. */
export function canMeet(condition: ObservationCondition, shown: Shown): boolean {
  switch (condition.on) {
    case 'kind':
      return condition.kinds.some((kind) => shownAs(kind) === shown);
    case 'any':
      return condition.of.some((list) => list.every((one) => canMeet(one, shown)));
    case 'value':
      return condition.values.some(({ of }) => shownAs(of) === shown);
    case 'id':
      return condition.ids.some((id) => shownBy(id)?.as === shown);
    case 'pointed':
      // No device measured a panel. What is calculated belongs to the visit, and nobody recorded it either.
      if (shown === 'panel') return condition.to !== 'device';
      return shown === 'reading' || condition.to === 'encounter';
    case 'place-in-set':
      if (shown === 'panel') return condition.places.some(({ index }) => index === null);
      return shown === 'reading';
    case 'method':
      return shown === 'reading';
    case 'derived-from':
      return shown !== 'reading' && shown !== 'panel';
    case 'has-member':
      return shown === 'panel';
    case 'absent':
      if (shown === 'panel') return false;
      return shown === 'reading' || condition.where !== 'component';
    case 'patient':
    case 'patient-named':
    case 'taken':
    case 'stamp':
    case 'status':
    case 'doubt':
      return true;
  }
}

function shownAs(kind: ObservationKind): Shown {
  if ('panel' in kind) return 'panel';
  return 'derived' in kind ? kind.derived : 'reading';
}

/** The condition on rows `r` of readings that are shown so, at a stamp. */
export function conditionSql(
  condition: ObservationCondition,
  moment: { readonly shown: Shown; readonly asOfMs: number },
  values: SqlValues,
): string {
  const { shown, asOfMs } = moment;
  switch (condition.on) {
    case 'patient':
      return patientSql(condition.ids, asOfMs, values);
    case 'patient-named':
      return condition.by === 'patient'
        ? patientNamedSql(condition.tokens, asOfMs, values)
        : subjectNamedSql(condition.tokens, values);
    case 'pointed':
      return pointedSql(condition.to, condition.at, values);
    case 'derived-from':
      return `r.reading_id = any(${values.bind(condition.ids, 'uuid[]')})`;
    case 'has-member':
      return memberSql(condition.ids, values);
    case 'method':
      return `r.method = any(${values.bind(condition.methods, 'method[]')})`;
    case 'value':
      return anyOf(
        condition.values
          .filter(({ of }) => shownAs(of) === shown)
          .map((demand) => valueSql(demand, values)),
      );
    case 'absent':
      return shown === 'panel'
        ? 'false'
        : absentSql(condition.where, condition.reasons, shown, values);
    case 'id':
      return idSql(condition.ids, shown, values);
    case 'kind':
      return anyOf(
        condition.kinds
          .filter((kind) => shownAs(kind) === shown)
          .map((kind) => kindSql(kind, values)),
      );
    case 'taken':
      return anyOf(condition.ranges.map((range) => timeRangeSql('r.effective_at', range, values)));
    case 'stamp':
      return anyOf(condition.ranges.map((range) => timeRangeSql('r.stamp', range, values)));
    case 'status':
      return `${statusSql(shown)} = any(${values.bind(condition.statuses, 'observation_status[]')})`;
    case 'doubt':
      return anyOf(condition.doubts.map((doubt) => doubtSql(doubt, shown)));
    case 'place-in-set':
      return placedSql(condition, shown, values);
    case 'any':
      return anyOf(
        condition.of.map((list) => allOf(list.map((one) => conditionSql(one, moment, values)))),
      );
  }
}

/** Of these conditions those that a held reading can meet, or what would be calculated from it. */
export function heldSql(
  conditions: readonly ObservationCondition[],
  asOfMs: number,
  values: SqlValues,
): string[] {
  return conditions.flatMap((one) => {
    if (one.on === 'patient' || one.on === 'patient-named' || one.on === 'taken') {
      return [conditionSql(one, { shown: 'reading', asOfMs }, values)];
    }
    if (one.on === 'any') {
      return [anyOf(one.of.map((list) => allOf(heldSql(list, asOfMs, values))))];
    }
    if (one.on !== 'kind') return [];
    // Nothing that is held is a panel.
    const kinds = one.kinds.filter((kind) => shownAs(kind) !== 'panel');
    return [anyOf(kinds.map((kind) => kindSql(kind, values)))];
  });
}

function anyOf(alternatives: readonly string[]): string {
  return alternatives.length === 0 ? 'false' : `(${alternatives.join(' or ')})`;
}

function allOf(demands: readonly string[]): string {
  return demands.length === 0 ? 'true' : `(${demands.join(' and ')})`;
}

function idSql(ids: readonly string[], shown: Shown, values: SqlValues): string {
  const readings = ids.flatMap((id) => {
    const of = shownBy(id);
    return of?.as === shown ? [of.rowId] : [];
  });
  return `r.reading_id = any(${values.bind(readings, 'uuid[]')})`;
}

/** What was published and holds no more is out as an error, whatever the reading is out as. */
export function statusSql(shown: Shown): string {
  if (shown === 'reading' || shown === 'panel') return 'r.status';
  return `(case when r.derived ->> '${shown}' is null then 'entered-in-error' else r.status end)`;
}

function kindSql(kind: ObservationKind, values: SqlValues): string {
  if ('panel' in kind) return 'true';
  if ('derived' in kind) return hasSql(kind.derived);
  const { vital, methods, sites, part } = kind;
  const demands = [`r.vital = ${values.bind(vital, 'vital')}`];
  if (methods !== null) demands.push(amongSql('r.method', methods, values));
  if (sites !== null) demands.push(amongSql('r.site', sites, values));
  if (part !== null) demands.push(`${PART_COLUMNS[part]} is not null`);
  return `(${demands.join(' and ')})`;
}

function valueSql({ of, ranges }: ValueDemand, values: SqlValues): string {
  if ('derived' in of) return derivedAmountSql(of.derived, ranges, values);
  return `(${kindSql(of, values)} and ${amountSql(of.part, ranges, values)})`;
}

function amongSql(column: string, words: readonly (string | null)[], values: SqlValues): string {
  const named = words.filter((word) => word !== null);
  const list = `${column}::text = any(${values.bind(named, 'text[]')})`;
  return words.includes(null) ? `(${column} is null or ${list})` : list;
}

/** What a tag says; when a reading arrived stands in the first 48 bits of its id (RFC 9562 §5.7). */
function doubtSql(doubt: Doubt, shown: Shown): string {
  const preliminary = `${statusSql(shown)} = 'preliminary'`;
  if (doubt !== 'late-arrival' && (shown === 'panel') !== (doubt === 'unsettled-members')) {
    return 'false';
  }
  switch (doubt) {
    case 'unsettled-members':
      return `(${preliminary})`;
    case 'unconfirmed':
      return `(${preliminary} and r.verdict = 'held')`;
    case 'unreviewed':
      return `(${preliminary} and r.verdict <> 'held'
               and (r.report ->> 'reviewed') is distinct from 'true')`;
    case 'doubtful-signal':
      return `(${preliminary} and r.report -> 'signal' -> 0 is not null)`;
    case 'late-arrival':
      return `(r.effective_at < to_timestamp((('x' || left(replace(r.reading_id::text, '-', ''), 12))::bit(48)::bigint
                - ${LATE_AFTER_MS}) / 1000.0))`;
  }
}
