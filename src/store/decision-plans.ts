/** What a decision comes to before anything is written: rows, or a refusal. */
import type { PoolClient } from 'pg';
import type { Finding } from '../vitals/shapes.js';
import type { RecordOfReading } from './decided-columns.js';
import type { Deciding, DecisionRequest } from './deciding.js';
import type { Edition } from './edition-shelf.js';
import type { Names, PatientName } from './names.js';

export interface Plan {
  readonly kind: 'plan';
  /** The present version with the changes of the next one. */
  readonly next: RecordOfReading;
  /** The reading published anew under the right patient. */
  readonly fresh: RecordOfReading | null;
  readonly publish: ReadonlyMap<string, Finding>;
}

export interface PlanRefusal {
  readonly kind: 'refused';
  readonly status: 409 | 422;
  readonly detail: string;
  /** What the rules said about a correction that they reject. */
  readonly findings: readonly Finding[];
}

/** A decision that cannot be carried out, and why. */
export function refuse(
  status: 409 | 422,
  detail: string,
  findings: readonly Finding[] = [],
): PlanRefusal {
  return { kind: 'refused', status, detail, findings };
}

/** What a plan is made from. The patients' locks and the row's lock are held. */
export interface Planning {
  readonly client: PoolClient;
  readonly names: Names;
  readonly deciding: Deciding;
  /** The edition in force when it is decided. */
  readonly edition: Edition;
  readonly request: DecisionRequest;
  readonly record: RecordOfReading;
  /** The patient that the decision names; null: none. */
  readonly target: PatientName | null;
}
