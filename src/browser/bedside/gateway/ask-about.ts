/** What the page asks the gateway for at once or not at all: patients, decisions, practice, checks. */
import type {
  DecideOutcome,
  FindOutcome,
  FoundPatient,
  OwnDecision,
  PracticeOutcome,
  PracticePart,
  PracticeSetValue,
  SetAnswer,
  SetJson,
} from '../door.js';
import type { Fault } from '../../../vitals/incoming.js';
import { reasonOf } from './ask-gateway.js';
import type { Session } from './session.js';

const FIND_PATH = '/bedside/patients/find';
const CHECK_PATH = '/sets/check';
const PRACTICE_PATH = '/reference-checks';
const FIND_TIMEOUT_MS = 10_000;

export async function findPatient(
  session: Session,
  identifier: { readonly system?: string; readonly value: string },
): Promise<FindOutcome> {
  const reply = await session.ask({
    ...{ path: FIND_PATH, body: identifier, timeoutMs: FIND_TIMEOUT_MS },
  });
  if (reply.kind === 'no-network') return 'no-network';
  if (reply.kind === 'answer') return reply.body as FoundPatient;
  switch (reply.status) {
    case 400:
    case 404:
      return 'unknown';
    case 409:
      return 'ambiguous';
    case 429:
      return 'too-many';
    case 401:
    case 403:
      return 'not-allowed';
    default:
      return 'no-network';
  }
}

/** Null: the gateway does not answer in time, whatever the reason. */
export async function checkAtGateway(
  session: Session,
  set: SetJson,
): Promise<{ readonly answer: SetAnswer } | { readonly faults: readonly Fault[] } | null> {
  const reply = await session.ask({ path: CHECK_PATH, body: set });
  if (reply.kind === 'answer' && reply.status === 200) return { answer: reply.body as SetAnswer };
  if (reply.kind !== 'problem' || reply.status !== 400) return null;
  return { faults: reply.problem.errors ?? [{ pointer: '', message: reply.problem.detail }] };
}

export async function decide(
  session: Session,
  setId: string,
  index: number,
  decision: OwnDecision,
): Promise<DecideOutcome> {
  const path = `/sets/${encodeURIComponent(setId)}/readings/${index}/decisions`;
  const reply = await session.ask({ path, body: decision });
  if (reply.kind === 'answer' && reply.status === 200) {
    return { state: 'done', answer: reply.body as SetAnswer };
  }
  if (reply.kind === 'answer') return { state: 'not-sent', why: 'gateway-busy' };
  const isOurs = reply.kind === 'problem' && [400, 404, 409, 422].includes(reply.status);
  return isOurs
    ? { state: 'refused', status: reply.status, problem: reply.problem }
    : { state: 'not-sent', why: reasonOf(reply) };
}

export async function practice(
  session: Session,
  reading: SetJson['readings'][number],
  setValue: PracticeSetValue,
): Promise<PracticeOutcome> {
  const body = { kind: 'practice-arm', reading, setValue };
  const reply = await session.ask({ path: PRACTICE_PATH, body });
  if (reply.kind === 'answer' && reply.status === 201) {
    const { passed, parts } = reply.body as { passed: boolean; parts: PracticePart[] };
    return { state: 'compared', passed, parts };
  }
  if (reply.kind === 'answer') return { state: 'not-sent', why: 'gateway-busy' };
  return reply.kind === 'problem' && reply.status === 400
    ? { state: 'refused', problem: reply.problem }
    : { state: 'not-sent', why: reasonOf(reply) };
}
