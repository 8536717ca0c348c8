/** All that the page of one reading shows. */
import { findReviewReading, findReviewReadingsOf } from '../../../store/review-readings.js';
import type { ReviewReading } from '../../../store/review-readings.js';
import { listDecisions, listReadingVersions } from '../../../store/review-history.js';
import type { KeptDecision } from '../../../store/review-history.js';
import { findSubmission, findSubmissionBytes } from '../../../store/review-submissions.js';
import type { SubmissionFacts } from '../../../store/review-submissions.js';
import { findMappingThen } from '../../../store/source-mappings.js';
import type { MappingThen } from '../../../store/source-mappings.js';
import { listSignHistory } from '../../../store/sign-history.js';
import type { DecisionAction } from '../../../vitals/decisions.js';
import type { ReadingVersion } from '../../../vitals/shapes.js';
import { possibleActions } from '../../review/reading-detail.js';
import type { ReviewServices } from '../../review/services.js';

const DAY_MS = 86_400_000;
const HISTORY_BEFORE_MS = 7 * DAY_MS;
const HISTORY_AFTER_MS = DAY_MS;
const MOST_HISTORY = 200;

export interface ReadingPageFacts {
  readonly reading: ReviewReading;
  /** Oldest first; the first is what was made of it when it came. */
  readonly versions: readonly ReadingVersion[];
  readonly decisions: readonly KeptDecision[];
  readonly actions: readonly DecisionAction[];
  readonly arrival: SubmissionFacts | null;
  readonly bytes: Buffer | null;
  /** By which mapping of its source it was read. */
  readonly mapping: MappingThen;
  /** What came in the same set. */
  readonly siblings: readonly ReviewReading[];
  /** The patient's readings of this sign from days before to a day after. */
  readonly history: readonly ReadingVersion[];
}

/** Null: there is no reading of this id. */
export async function readReadingPage(
  services: ReviewServices,
  id: string,
): Promise<ReadingPageFacts | null> {
  const { pool } = services;
  const reading = await findReviewReading(pool, id);
  if (reading === null) return null;
  const { submissionId, takenAt, vital, patient } = reading.version;
  const submission = await findSubmission(pool, submissionId);
  const kept = await findSubmissionBytes(pool, submissionId);
  const siblings = await findReviewReadingsOf(pool, submissionId);
  const versions = await listReadingVersions(pool, id);
  const readAtMs = versions[0]?.stampMs ?? reading.version.stampMs;
  return {
    reading,
    versions,
    mapping: await findMappingThen(pool, submissionId, readAtMs),
    decisions: await listDecisions(pool, id),
    actions: possibleActions(services, reading),
    arrival: submission?.facts ?? null,
    bytes: kept?.bytes ?? null,
    siblings: siblings.filter(({ version }) => version.readingId !== id),
    history: await listSignHistory(pool, {
      ...{ patientId: patient.id, vital, limit: MOST_HISTORY },
      fromMs: takenAt.epochMs - HISTORY_BEFORE_MS,
      toMs: takenAt.epochMs + HISTORY_AFTER_MS,
    }),
  };
}
