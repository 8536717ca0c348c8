/** Corrects or withdraws a reading of a set that was sent from here. */
import type { SetAnswer } from '../door.js';
import type { DecideOutcome, OwnDecision } from '../door.js';
import type { SentSet } from './page-state.js';
import type { Session } from './surroundings.js';

export async function decide(
  { store, around }: Session,
  setId: string,
  index: number,
  decision: OwnDecision,
): Promise<DecideOutcome> {
  const outcome = await around.door.decide(setId, index, decision);
  if (outcome.state !== 'done') return outcome;
  store.change({
    sent: store
      .get()
      .sent.map((one) => (one.setId === setId ? answered(one, outcome.answer) : one)),
    view: { name: 'sent', setId },
  });
  return outcome;
}

function answered(sent: SentSet, answer: SetAnswer): SentSet {
  return { ...sent, outcome: { state: 'answered', status: 201, answer } };
}
