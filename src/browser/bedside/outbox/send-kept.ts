/** Sends one kept set and says what came of it. */
import { isSamePerson } from '../vault/drafts.js';
import type { Problem, SetAnswer, WaitingReason } from '../door.js';
import { reasonOf } from '../gateway/ask-gateway.js';
import type { GatewayReply } from '../gateway/ask-gateway.js';
import type { Session } from '../gateway/session.js';
import type { KeptSet } from './waiting-sets.js';

const SETS_PATH = '/sets';
/** By it the gateway knows whose set another person hands in. */
const VOUCHER_HEADER = 'Taken-By';

export type Sent =
  | { readonly kind: 'answered'; readonly status: 201 | 422; readonly answer: SetAnswer }
  /** The set is at fault, and will be for ever. */
  | { readonly kind: 'refused'; readonly problem: Problem }
  /** This set cannot go now; the others may. */
  | { readonly kind: 'passed-over'; readonly why: WaitingReason }
  /** Nothing can go now. */
  | { readonly kind: 'stopped'; readonly why: WaitingReason; readonly retryAfterMs: number | null };

/** What is said of the set itself (RFC 9110 §15.5): it would be said again. */
const FAULTS_OF_THE_SET: readonly number[] = [400, 409, 413, 415];

export async function sendKept(session: Session, kept: KeptSet): Promise<Sent> {
  const sender = session.person;
  if (sender === null) return { kind: 'stopped', why: 'sign-in-needed', retryAfterMs: null };
  const own = isSamePerson(sender.identifier, kept.person);
  // Only its own person can hand in a set that has no voucher.
  if (!own && kept.voucher === null) return { kind: 'passed-over', why: 'sign-in-needed' };
  const reply = await session.ask({
    ...{ path: SETS_PATH, body: kept.body },
    ...(!own && { headers: { [VOUCHER_HEADER]: kept.voucher ?? '' } }),
  });
  return outcomeOf(reply, kept, own);
}

function outcomeOf(reply: GatewayReply, { setId }: KeptSet, own: boolean): Sent {
  if (reply.kind === 'no-network')
    return { kind: 'stopped', why: 'no-network', retryAfterMs: null };
  const { status } = reply;
  if (reply.kind === 'answer') {
    const answer = reply.body as SetAnswer;
    const isItsAnswer = (status === 201 || status === 422) && answer.setId === setId;
    // Whatever else this is, it does not say that the set is on disk.
    return isItsAnswer
      ? { kind: 'answered', status, answer }
      : { kind: 'passed-over', why: 'gateway-busy' };
  }
  if (FAULTS_OF_THE_SET.includes(status)) return { kind: 'refused', problem: reply.problem };
  if (status === 403 && !own) return { kind: 'passed-over', why: 'sign-in-needed' };
  // A failure over one set must not keep the others here.
  if (status === 500) return { kind: 'passed-over', why: 'gateway-busy' };
  return { kind: 'stopped', why: reasonOf(reply), retryAfterMs: reply.retryAfterMs };
}
