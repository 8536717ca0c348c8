import type { Moment } from '../../vitals/shapes.js';
import type { Hl7Fault } from './fault.js';
import type { AcknowledgeMode, AcknowledgeWhen, Hl7Header } from './header.js';
import { writeAnswer, type AcknowledgementCode } from './write-answer.js';
import { writeTime } from './write-time.js';

/** What became of a message. Each is told at most once, in this order. */
export type Outcome =
  /** It is not taken; its bytes are kept all the same. */
  | {
      readonly kind: 'refused';
      readonly as: 'reject' | 'error';
      readonly faults: readonly Hl7Fault[];
    }
  /** It is on disk. Only to be said after the commit. */
  | { readonly kind: 'kept' }
  /** It has been worked on. Held readings do not make it an error: they are taken. */
  | { readonly kind: 'processed'; readonly result: 'accept' }
  | {
      readonly kind: 'processed';
      readonly result: 'reject' | 'error';
      readonly faults: readonly Hl7Fault[];
    };

export interface Acknowledgement {
  readonly code: AcknowledgementCode;
  /** `reply`: at once, on the connection of the message; `own`: opens a later exchange. */
  readonly exchange: 'reply' | 'own';
  readonly controlId: string;
  /** The message, without the bytes that frame it. */
  readonly bytes: Buffer;
}

export interface AcknowledgeTools {
  /** The time of the answer, in the zone in which it is told. */
  readonly now: Moment;
  /** Makes an id that no other message has; older receivers take 20 characters (from memory). */
  readonly makeId: () => string;
  /** Names the gateway where the sender named no receiver in MSH-5. */
  readonly application: string;
}

/**
 * The acknowledgement that is due for an outcome, or null when the sender wants none of it
 * (HL7 v2.9.1 §2.8.2, §2.8.3). It has the sender's separators, character set and version.
 */
export function acknowledge(
  header: Pick<Hl7Header, 'mode' | 'echo'>,
  outcome: Outcome,
  tools: AcknowledgeTools,
): Acknowledgement | null {
  const due = chooseAnswer(header.mode, outcome);
  if (due === null) return null;
  const controlId = tools.makeId();
  const faults = 'faults' in outcome ? outcome.faults : [];
  const text = writeAnswer(header.echo, {
    ...due,
    controlId,
    time: writeTime(tools.now),
    application: tools.application,
    faults,
  });
  return { ...due, controlId, bytes: Buffer.from(text, 'latin1') };
}

type Answer = Pick<Acknowledgement, 'code' | 'exchange'>;

function chooseAnswer(mode: AcknowledgeMode, outcome: Outcome): Answer | null {
  if (mode.kind === 'original') {
    if (outcome.kind === 'kept') return null;
    return { code: applicationCode(outcome), exchange: 'reply' };
  }
  if (outcome.kind === 'kept') {
    return isWanted(mode.accept, true) ? { code: 'CA', exchange: 'reply' } : null;
  }
  if (outcome.kind === 'refused' && isWanted(mode.accept, false)) {
    return { code: outcome.as === 'reject' ? 'CR' : 'CE', exchange: 'reply' };
  }
  const code = applicationCode(outcome);
  if (!isWanted(mode.application, code === 'AA')) return null;
  // The standard asks for an exchange of its own even where no accept acknowledgement is wanted; who
  // sends NE and AL waits on the same connection all the same (common practice, no source).
  return { code, exchange: mode.accept === 'NE' ? 'reply' : 'own' };
}

function applicationCode(outcome: Exclude<Outcome, { kind: 'kept' }>): AcknowledgementCode {
  const result = outcome.kind === 'refused' ? outcome.as : outcome.result;
  return result === 'accept' ? 'AA' : result === 'reject' ? 'AR' : 'AE';
}

function isWanted(when: AcknowledgeWhen, success: boolean): boolean {
  return when === 'AL' || when === (success ? 'SU' : 'ER');
}
