import type { EditionShelf } from '../../store/edition-shelf.js';
import type { Pool } from '../../store/pool.js';
import type { Vital } from '../../vitals/words.js';
import type { Vouchers } from './vouchers.js';

/** A kind of patient identifier: what people call it, and the system that sets name it by. */
export interface IdentifierKind {
  readonly label: string;
  readonly system: string;
}

/** What the site wants the bedside page to offer. */
export interface BedsideSite {
  /** IANA time zone. */
  readonly zone: string;
  /** UCUM codes offered first, by sign. */
  readonly units: Readonly<Partial<Record<Vital, string>>>;
  /** The usual one first. */
  readonly identifierKinds: readonly IdentifierKind[];
  readonly idleMinutes: number;
}

export interface BedsideServices {
  readonly pool: Pool;
  readonly editions: EditionShelf;
  readonly site: BedsideSite;
  readonly vouchers: Vouchers;
  readonly clock: () => number;
}
