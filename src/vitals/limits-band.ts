/** The shape of one interpretation band: as it is written in the tables, and as values are held against it. */
import type { AgeBound } from './age-span.js';
import { limit, type Limit, type Source } from './limits-sources.js';

/** The four limits of a band in rising order. Every limit includes its own value. */
export const BAND_CODES = ['criticalLow', 'low', 'high', 'criticalHigh'] as const;
export type BandCode = (typeof BAND_CODES)[number];

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

/** A limit that differs between the sexes; the lower one stands where the sex is not known. */
export interface LimitBySex {
  readonly male: Limit;
  readonly female: Limit;
}

/** Null: there is no such code in this band. */
export type BandLimit = Limit | LimitBySex | null;

/** One row of a table of bands. */
export type BandRow = Pick<Band, 'until' | 'label'> & Readonly<Record<BandCode, BandLimit>>;

export type Cell = readonly [at: number, source: Source] | LimitBySex | null;

function isWritten(cell: Exclude<Cell, null>): cell is readonly [number, Source] {
  return Array.isArray(cell);
}

const bandLimit = (cell: Cell): BandLimit =>
  cell === null || !isWritten(cell) ? cell : limit(cell[0], cell[1]);

/** A band from its four limits in rising order: LL up to, N from, N up to, HH from. */
export function band(
  until: AgeBound | null,
  label: string,
  [criticalLow, low, high, criticalHigh]: readonly [Cell, Cell, Cell, Cell],
): BandRow {
  return {
    until,
    label,
    criticalLow: bandLimit(criticalLow),
    low: bandLimit(low),
    high: bandLimit(high),
    criticalHigh: bandLimit(criticalHigh),
  };
}
