/** A kept set as it was read when it came. */
import type { NormalisedSet } from '../vitals/shapes.js';
import { unpackBytes } from './compress.js';
import { deliveredSet } from './submission-records.js';

export interface ReadAgain {
  /** The set that stored bytes hold, read and normalised as when they came. */
  readonly readAgain: (body: Buffer, contentType: string) => NormalisedSet;
}

/** As much of a submission as that takes. */
export interface KeptSetRow {
  readonly body: Buffer;
  readonly content_type: string;
  /** Null: the bytes are the set. */
  readonly delivered: Buffer | null;
}

/** @throws Error when the bytes can no longer be read as a set */
export function rereadSet({ readAgain }: ReadAgain, row: KeptSetRow): NormalisedSet {
  return row.delivered === null
    ? readAgain(unpackBytes(row.body), row.content_type)
    : deliveredSet(row.delivered);
}
