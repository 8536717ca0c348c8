/** Everything about one reading: as it stands, how it came to that, and what it arrived with. */
import { findReviewReading, findReviewReadingsOf } from '../../store/review-readings.js';
import type { ReviewReading } from '../../store/review-readings.js';
import { listDecisions, listReadingVersions } from '../../store/review-history.js';
import { findSubmission } from '../../store/review-submissions.js';
import type { DecisionAction } from '../../vitals/decisions.js';
import {
  renderDecision,
  renderPastVersion,
  renderReading,
  renderSibling,
} from './render-reading.js';
import { renderSubmission } from './render-submission.js';
import type { ReviewServices } from './services.js';

export interface ReadingDetail {
  readonly version: number;
  readonly patientId: string;
  readonly body: Readonly<Record<string, unknown>>;
}

/** Null: there is no reading of this id. */
export async function readDetail(
  services: ReviewServices,
  id: string,
): Promise<ReadingDetail | null> {
  const { pool } = services;
  const reading = await findReviewReading(pool, id);
  if (reading === null) return null;
  const { submissionId } = reading.version;
  const [versions, decisions, submission, siblings] = [
    await listReadingVersions(pool, id),
    await listDecisions(pool, id),
    await findSubmission(pool, submissionId),
    await findReviewReadingsOf(pool, submissionId),
  ];
  const body = {
    ...renderReading(reading),
    allowedActions: possibleActions(services, reading),
    replaces: reading.replaces,
    replacedBy: decisions.find(({ newReadingId }) => newReadingId !== null)?.newReadingId ?? null,
    history: versions.map(renderPastVersion),
    decisions: decisions.map(renderDecision),
    arrival: submission === null ? null : renderSubmission(submission.facts),
    alongside: siblings.filter(({ version }) => version.readingId !== id).map(renderSibling),
  };
  const { version, patient } = reading.version;
  return { version, patientId: patient.id, body };
}

/** Nothing is released for a patient whom nobody has registered: it must be assigned, or corrected. */
export function possibleActions(
  { allowedActions }: ReviewServices,
  { version, registered }: ReviewReading,
): DecisionAction[] {
  return allowedActions(version).filter((action) => action !== 'release' || registered !== null);
}
