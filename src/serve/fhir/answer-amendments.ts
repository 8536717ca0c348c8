/** Carries out what speaks of Observations of before, once it is on disk, and tells what became of it. */
import type { SentEntry } from '../../compose/fhir-intake.js';
import type { DecisionOutcome } from '../../store/decide-reading.js';
import { findObservation } from '../../store/observation-history.js';
import type { DeliveryServices } from './delivery-services.js';
import { findingIssue, publishedAnswer } from './entry-answers.js';
import type { EntryAnswer } from './entry-answers.js';
import type { OutcomeIssue } from './render-outcome.js';
import type { FhirSite } from './site.js';
import type { FoundAmendment } from './sort-amendments.js';
import type { Submission } from './submission.js';
import type { Taken } from './take-delivery.js';

export async function answerAmendments(
  { baseUrl }: FhirSite,
  services: DeliveryServices,
  { kind }: Submission,
  { amendments, committed: { envelope, repeat } }: Taken,
): Promise<ReadonlyMap<SentEntry, EntryAnswer>> {
  const answers = new Map<SentEntry, EntryAnswer>();
  if (envelope === null) return answers;
  for (const one of amendments) {
    const { original, fate } = one;
    const { action, reading } = fate.amendment;
    // What came before was carried out before.
    const outcome: DecisionOutcome = repeat
      ? { kind: 'done', readingId: original.readingId, newReadingId: null }
      : await services.amend(envelope, { action, original, reading });
    answers.set(one.entry, await answerOf(services, baseUrl, kind === 'transaction', one, outcome));
  }
  return answers;
}

async function answerOf(
  { pool }: DeliveryServices,
  baseUrl: string,
  isTransaction: boolean,
  { original }: FoundAmendment,
  outcome: DecisionOutcome,
): Promise<EntryAnswer> {
  if (outcome.kind !== 'done') return refusedAnswer(outcome, isTransaction);
  const newest = await findObservation(pool, original.readingId);
  if (newest === null || newest.version.shown === 'panel')
    return { status: 202, issues: [UNPUBLISHED] };
  return publishedAnswer(200, newest.version, baseUrl, []);
}

const UNPUBLISHED: OutcomeIssue = {
  severity: 'information',
  code: 'informational',
  text: 'It is done; there is no Observation of it.',
};

/** What stands stays as it is. In a transaction it must not cost the others. */
function refusedAnswer(
  outcome: Exclude<DecisionOutcome, { kind: 'done' }>,
  isTransaction: boolean,
): EntryAnswer {
  const { status, detail, findings } =
    outcome.kind === 'refused'
      ? outcome
      : { status: 409, detail: 'What it speaks of is gone.', findings: [] };
  const issue: OutcomeIssue = { severity: 'error', code: 'business-rule', text: detail };
  return {
    status: isTransaction ? 202 : status,
    issues: [issue, ...findings.map(findingIssue)],
  };
}
