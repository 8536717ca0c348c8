/** What a search can demand of the values of readings, and of the reasons why there are none. */
import type { AbsentReason, Part } from '../vitals/words.js';
import type { ShownOfReading } from './shown-observations.js';
import type { SqlValues } from './sql-values.js';

/** One end of a range, in the unit in which the sign is kept. */
export interface Bound {
  /** A decimal in plain digits. */
  readonly text: string;
  readonly inclusive: boolean;
}

/** Null: without end. */
export interface AmountRange {
  readonly from: Bound | null;
  readonly to: Bound | null;
}

/** Why there is no value: as the sender said, as a rule found, or because it is calculated no longer. */
export type WhyAbsent = AbsentReason | 'in-error' | 'outdated';

/** Where a value or its absence is looked for: the Observation itself, its components, or both. */
export type Where = 'own' | 'component' | 'any';

export const PART_COLUMNS: Readonly<Record<Part, string>> = {
  value: 'r.amount',
  systolic: 'r.systolic',
  diastolic: 'r.diastolic',
  mean: 'r.mean',
};

const COMPONENTS = ['systolic', 'diastolic', 'mean'] as const;

function inErrorSql(part: Part): string {
  return `coalesce(r.findings @> '[{"partInError": "${part}"}]', false)`;
}

/** The demand that the value of a part is shown and lies in one of the ranges. */
export function amountSql(part: Part, ranges: readonly AmountRange[], values: SqlValues): string {
  return `(${rangesSql(PART_COLUMNS[part], ranges, values)} and not ${inErrorSql(part)})`;
}

/** The same of what was calculated. */
export function derivedAmountSql(
  shown: Exclude<ShownOfReading, 'reading'>,
  ranges: readonly AmountRange[],
  values: SqlValues,
): string {
  return rangesSql(`(r.derived ->> '${shown}')::numeric`, ranges, values);
}

function rangesSql(column: string, ranges: readonly AmountRange[], values: SqlValues): string {
  const alternatives = ranges.map(({ from, to }) =>
    [
      ...(from === null ? [] : [endSql(column, '>', from, values)]),
      ...(to === null ? [] : [endSql(column, '<', to, values)]),
    ].join(' and '),
  );
  return `(${alternatives.join(' or ')})`;
}

function endSql(
  column: string,
  side: '<' | '>',
  { text, inclusive }: Bound,
  values: SqlValues,
): string {
  return `${column} ${side}${inclusive ? '=' : ''} ${values.bind(text, 'numeric')}`;
}

/** The demand that a value is absent for one of the reasons, in the way the renderer tells it. */
export function absentSql(
  where: Where,
  reasons: readonly WhyAbsent[],
  shown: ShownOfReading,
  values: SqlValues,
): string {
  const among = `= any(${values.bind(reasons, 'text[]')})`;
  if (shown !== 'reading') {
    return `(case when r.derived ->> '${shown}' is null then 'outdated' end) ${among}`;
  }
  const places = [
    ...(where === 'component' ? [] : [OWN_REASON]),
    ...(where === 'own' ? [] : COMPONENTS.map(componentReason)),
  ];
  return `(${places.map((reason) => `(${reason}) ${among}`).join(' or ')})`;
}

const NO_REASON_SAID = "coalesce(r.absent, 'not-done')";

/** A pressure has one of its own only where all of it is absent; a code is a value. */
const OWN_REASON = `case when r.vital = 'blood-pressure' then r.absent
  when r.code is not null then null
  when ${inErrorSql('value')} then 'in-error'
  when r.amount is null then ${NO_REASON_SAID} end`;

/** A mean that nobody measured is no component. */
function componentReason(part: (typeof COMPONENTS)[number]): string {
  const column = PART_COLUMNS[part];
  const missing = part === 'mean' ? '' : `when ${column} is null then ${NO_REASON_SAID}`;
  return `case when r.vital <> 'blood-pressure' then null
    when ${inErrorSql(part)} and ${part === 'mean' ? `${column} is not null` : 'true'} then 'in-error' ${missing} end`;
}
