/** Where an edition stands, and in which words a decision about it is refused. */
import type { EditionOutcome, EditionRecord } from '../../store/editions.js';
import { HttpError } from '../http/http-error.js';

const REFUSALS: Readonly<Record<Exclude<EditionOutcome, 'done'>, readonly [number, string]>> = {
  unknown: [404, 'There is no such edition.'],
  decided: [409, 'This edition has been decided about already.'],
  own: [
    403,
    'You proposed this edition: another person, or for a program another client, must put it into force.',
  ],
  taken: [409, 'Another edition comes into force at that very moment: name another.'],
  'other-program': [
    409,
    'This edition was proposed for another edition of the program: propose it anew.',
  ],
};

/** The refusal of a decision, as it is told. */
export function editionRefusal(outcome: Exclude<EditionOutcome, 'done'>): HttpError {
  const [status, detail] = REFUSALS[outcome];
  return new HttpError({ status, detail });
}

/** @throws HttpError when the decision was not carried out */
export function settle(outcome: EditionOutcome): void {
  if (outcome === 'done') return;
  throw editionRefusal(outcome);
}

/** `scheduled`: approved, and not yet in force; `past`: another has taken its place. */
export type EditionStanding = 'proposed' | 'refused' | 'in-force' | 'scheduled' | 'past';

/** The number of the edition in force at a time. */
export function numberInForce(editions: readonly EditionRecord[], nowMs: number): number {
  const begun = editions.filter(
    ({ inForceFromMs }) => inForceFromMs !== null && inForceFromMs <= nowMs,
  );
  const latest = begun.reduce((a, b) => ((a.inForceFromMs ?? 0) > (b.inForceFromMs ?? 0) ? a : b));
  return latest.number;
}

export function stateOf(edition: EditionRecord, inForce: number, nowMs: number): EditionStanding {
  if (edition.state !== 'approved') return edition.state;
  if (edition.number === inForce) return 'in-force';
  return (edition.inForceFromMs ?? 0) > nowMs ? 'scheduled' : 'past';
}
