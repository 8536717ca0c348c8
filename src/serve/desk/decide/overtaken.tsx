import { Moment } from '../../pages/parts/moment.js';
import { wordText } from '../../pages/parts/value-text.js';
import type { KeptDecision } from '../../../store/review-history.js';

const DONE: Readonly<Record<KeptDecision['action'], string>> = {
  release: 'released it',
  correct: 'corrected it',
  reject: 'rejected it',
  withdraw: 'withdrew it',
  assign: 'assigned it to a patient',
};

/** What somebody did to a reading, in a sentence. */
export function DecisionSentence({ decision, zone }: { decision: KeptDecision; zone: string }) {
  const { action, reason, reasonCode, person, client, decidedMs } = decision;
  return (
    <>
      {person?.value ?? client ?? 'A message of the source'} {DONE[action]} at{' '}
      <Moment atMs={decidedMs} zone={zone} seconds />: {wordText(reasonCode)}. “{reason}”
    </>
  );
}
