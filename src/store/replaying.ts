/** A replay on its way: what it is asked, what was kept, and inside which transaction it runs. */
import type { Origin } from './audit.js';
import type { PoolClient } from 'pg';
import type { NormalisedSet, Reading } from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import type { Names } from './names.js';

/**
 * `keep` writes what comes of it. `look` judges in the same way, under the same locks, and writes nothing:
 * what it tells is what would come of it now.
 */
export type ReplayMode = 'keep' | 'look';

/** What a replay is asked with. */
export interface ReplayRequest {
  readonly submissionId: string;
  /** The readings of the whole message as they are read today, each at its place. */
  readonly readings: readonly Reading[];
  readonly clientKey: number;
  readonly personKey: number | null;
  readonly origin?: Origin | undefined;
  readonly nowMs: number;
  readonly mode: ReplayMode;
}

/** A set out of a message, as it is kept. */
export interface KeptPart {
  submission_id: string;
  set_id: string | null;
  source_key: number;
  patient_key: number;
  received_ms: string;
  delivered: Buffer;
  attended: boolean;
  second_identifier_required: boolean;
  synchronised: boolean;
}

/** One replay inside its transaction, under the patient's lock. */
export interface Replaying {
  readonly client: PoolClient;
  readonly names: Names;
  readonly judging: Judging;
  readonly request: ReplayRequest;
  readonly part: KeptPart;
  /** The set as it was read when it came. */
  readonly kept: NormalisedSet;
}
