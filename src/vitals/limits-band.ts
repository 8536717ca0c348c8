/** The shape of one interpretation band. */
import type { AgeBound } from './age.js';
import { limit, type Limit, type Source } from './limits-sources.js';

/** One row: every limit includes its own value. Null: there is no such code in this band. */
export interface Band {
  /** Where the band ends; null: it has no end. It begins where the one before it ends. */
  readonly until: AgeBound | null;
  readonly label: string;
  /** LL at or below. */
  readonly criticalLow: Limit | null;
  /** N from; L below. */
  readonly low: Limit | null;
  /** N up to; H above. */
  readonly high: Limit | null;
  /** HH at or above. */
  readonly criticalHigh: Limit | null;
}

export type Cell = readonly [at: number, source: Source] | null;

const cell = (written: Cell): Limit | null => written && limit(written[0], written[1]);

/** A band from its four limits in rising order: LL up to, N from, N up to, HH from. */
export function band(
  until: AgeBound | null,
  label: string,
  [criticalLow, low, high, criticalHigh]: readonly [Cell, Cell, Cell, Cell],
): Band {
  return {
    until,
    label,
    criticalLow: cell(criticalLow),
    low: cell(low),
    high: cell(high),
    criticalHigh: cell(criticalHigh),
  };
}
