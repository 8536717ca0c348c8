/** One decision of somebody at the desk, by the same road as every other: checked, kept, carried out or refused. */
import { z } from 'zod';
import { findReviewReading } from '../../../store/review-readings.js';
import type { ReviewReading } from '../../../store/review-readings.js';
import { listDecisions } from '../../../store/review-history.js';
import type { KeptDecision } from '../../../store/review-history.js';
import type { SignedIn } from '../../http/route.js';
import type { ReviewServices } from '../../review/services.js';

/** A decision as the contract has it (`schemas/decision.schema.json`); what is wrong in it is for the pipeline to say. */
export interface DecisionBody {
  readonly action: string;
  readonly reason: string;
  readonly reasonCode: string;
  readonly expectedVersion: number;
  readonly reading?: Readonly<Record<string, unknown>>;
  readonly patient?: Readonly<Record<string, unknown>>;
}

export type DecisionResult =
  | { readonly done: true; readonly newReadingId: string | null }
  | {
      readonly done: false;
      readonly status: number;
      readonly detail: string;
      /** Faults of the body, or findings that stand against a correction. */
      readonly points: readonly string[];
    };

const PROBLEM = z.object({
  detail: z.string().default(''),
  errors: z.array(z.object({ pointer: z.string(), message: z.string() })).default([]),
  findings: z.array(z.object({ message: z.string() })).default([]),
});

export async function sendDecision(
  { pipeline }: ReviewServices,
  caller: SignedIn,
  readingId: string,
  decision: DecisionBody,
): Promise<DecisionResult> {
  const bytes = Buffer.from(JSON.stringify(decision));
  const submission = { sender: caller, bytes, contentType: 'application/json' };
  const outcome = await pipeline.decideReading(submission, readingId);
  if (!('body' in outcome)) return { done: true, newReadingId: outcome.newReadingId };
  const { detail, errors, findings } = PROBLEM.parse(JSON.parse(outcome.body.toString('utf8')));
  const points = [
    ...errors.map(({ pointer, message }) => `${pointer} ${message}`),
    ...findings.map(({ message }) => message),
  ];
  return { done: false, status: outcome.status, detail, points };
}

/** How a reading stands after somebody else was quicker, and what that one did. */
export interface Overtaken {
  readonly reading: ReviewReading | null;
  readonly last: KeptDecision | null;
}

export async function findOvertaking(
  { pool }: ReviewServices,
  readingId: string,
): Promise<Overtaken> {
  const reading = await findReviewReading(pool, readingId);
  const decisions = await listDecisions(pool, readingId);
  return { reading, last: decisions.at(-1) ?? null };
}
