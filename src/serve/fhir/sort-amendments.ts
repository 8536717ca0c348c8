/** What speaks of Observations of before: of which, and what it comes to where there is none. */
import type { EntryFate, SentEntry } from '../../compose/fhir-intake.js';
import { findOriginal } from '../../store/find-original.js';
import type { AmendedReading } from '../../store/find-amended.js';
import type { DeliveredSet } from '../../vitals/shapes.js';
import type { HttpError } from '../http/http-error.js';
import type { DeliveryServices } from './delivery-services.js';
import { refusal } from './refuse.js';

/** An entry whose original is known. */
export interface FoundAmendment {
  readonly entry: SentEntry;
  readonly fate: Extract<EntryFate, { kind: 'amendment' }>;
  readonly original: AmendedReading;
}

export interface SortedAmendments {
  readonly found: readonly FoundAmendment[];
  /** Of those without an original. */
  readonly sets: readonly DeliveredSet[];
  /** What those are then. */
  readonly fates: ReadonlyMap<SentEntry, EntryFate>;
  readonly refused: ReadonlyMap<SentEntry, HttpError>;
}

/** Its subject is never changed by a correction. */
const OTHER =
  'Under its identifier another Observation is kept, of another patient or sign. Withdraw that one, and send this one under an identifier of its own.';

export async function sortAmendments(
  { pool }: DeliveryServices,
  sourceKey: number,
  all: ReadonlyMap<SentEntry, EntryFate>,
): Promise<SortedAmendments> {
  const found: FoundAmendment[] = [];
  const sets: DeliveredSet[] = [];
  const fates = new Map<SentEntry, EntryFate>();
  const refused = new Map<SentEntry, HttpError>();
  for (const [entry, fate] of all) {
    if (fate.kind !== 'amendment') continue;
    const { patient, reading, otherwise } = fate.amendment;
    const answer = await findOriginal(pool, sourceKey, patient, reading);
    if (answer.kind === 'found') found.push({ entry, fate, original: answer.original });
    else if (answer.kind === 'other') {
      refused.set(entry, refusal(409, 'duplicate', OTHER, `${entry.path}.identifier`));
    } else {
      sets.push(otherwise);
      fates.set(entry, fateOf(entry, otherwise));
    }
  }
  return { found, sets, fates, refused };
}

function fateOf({ index }: SentEntry, { unread = [] }: DeliveredSet): EntryFate {
  const [row] = unread;
  return row === undefined
    ? { kind: 'reading', places: [index] }
    : { kind: 'unread', reason: row.reason, message: row.message };
}
