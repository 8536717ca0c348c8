/** What an age is, as far as limits need to know it. */

/** An age in completed days and in completed calendar months. */
export interface AgePoint {
  readonly days: number;
  readonly months: number;
}

/**
 * A FHIR date may lack day and month, so an age is a span. The two ends are the same object when the
 * birth date is complete.
 */
export interface Age {
  readonly youngest: AgePoint;
  readonly oldest: AgePoint;
}

/** Where an age band ends, the end itself not included. */
export type AgeBound = { readonly days: number } | { readonly months: number };

/** Whether an age lies below the end of a band. */
export function isYounger(age: AgePoint, bound: AgeBound): boolean {
  return 'days' in bound ? age.days < bound.days : age.months < bound.months;
}

/** Whether an age is known to be at least so many completed months. */
export function isAtLeast(age: Age | null, months: number): boolean {
  return age !== null && age.youngest.months >= months;
}

/** A bound as the ids of settings spell it: `28d`, `18mo`, `2y`. */
export function boundKey(bound: AgeBound): string {
  if ('days' in bound) return `${bound.days}d`;
  return bound.months % 12 === 0 ? `${bound.months / 12}y` : `${bound.months}mo`;
}

/** The ages of a band as ids spell them, half open: `0-28d`, `13y-up`. Null: from birth; without end. */
export function agesKey(from: AgeBound | null, until: AgeBound | null): string {
  const start = from === null ? '0' : boundKey(from);
  return `${start}-${until === null ? 'up' : boundKey(until)}`;
}

/** A bound in months, for telling whether two bands have an age in common. */
export function inMonths(bound: AgeBound): number {
  return 'days' in bound ? (bound.days * 12) / 365.25 : bound.months;
}
