/** One attempt to take a delivery: read, sorted, committed. */
import type { PartOutcome } from '../../deliveries/deliveries.js';
import { ConditionFailed } from '../../errors.js';
import type { EntryFate, Register, SentEntry, Surroundings } from '../../compose/fhir-intake.js';
import type { DirectorySource } from '../../store/source-directory.js';
import type { Envelope } from '../../store/submission-records.js';
import type { DeliveredSet } from '../../vitals/shapes.js';
import type { HttpError } from '../http/http-error.js';
import type { DeliveryServices } from './delivery-services.js';
import { conditionError, fateError, joinErrors } from './entry-errors.js';
import { sortAmendments } from './sort-amendments.js';
import type { FoundAmendment } from './sort-amendments.js';
import type { Submission } from './submission.js';

/** What is on disk. */
export interface Committed {
  /** Under which the whole is kept; null: it brought nothing that is kept by itself. */
  readonly envelope: Envelope | null;
  /** The very same bytes had come before. */
  readonly repeat: boolean;
  readonly parts: readonly PartOutcome[];
}

/** What the pipeline took: the fates of the entries that were not refused. */
export interface Taken {
  readonly fates: ReadonlyMap<SentEntry, EntryFate>;
  readonly amendments: readonly FoundAmendment[];
  readonly committed: Committed;
}

export interface Taking {
  readonly services: DeliveryServices;
  readonly submission: Submission;
  readonly source: DirectorySource | null;
  readonly around: Surroundings;
  readonly register: Register;
}

/**
 * @param refused entries that are not taken, and why; what this attempt refuses is added
 * @returns null when of a batch an entry's condition did not hold, which the commit alone can tell: nothing
 *   was kept, and the rest is to be taken without it
 * @throws HttpError when something is refused that is no batch's
 */
export async function takeDelivery(
  taking: Taking,
  refused: Map<SentEntry, HttpError>,
): Promise<Taken | null> {
  const { services, submission } = taking;
  const left = submission.entries.filter((entry) => !refused.has(entry));
  const read = services.intake.readDelivery(left, taking.around, taking.register);
  const fates = new Map<SentEntry, EntryFate>();
  left.forEach((entry, i) => {
    const fate = read.fates[i];
    if (fate?.kind === 'refused') refused.set(entry, fateError(fate.faults));
    else if (fate !== undefined) fates.set(entry, fate);
  });
  const sorted = await sortAmendments(services, submission.caller.sourceKey, fates);
  for (const [entry, error] of sorted.refused) refused.set(entry, error);
  for (const [entry, fate] of sorted.fates) fates.set(entry, fate);
  if (submission.kind !== 'batch' && refused.size > 0) {
    throw joinErrors(submission.entries.flatMap((entry) => refused.get(entry) ?? []));
  }
  await services.noteClocks(read.clocks);
  try {
    const sets = [...read.sets, ...sorted.sets];
    const committed = await commit(taking, sets, sorted.found.length > 0);
    return { fates, amendments: sorted.found, committed };
  } catch (error) {
    if (!(error instanceof ConditionFailed)) throw error;
    const entry = entryAt(fates, error.index);
    const failure = conditionError(error.reason, entry.path);
    if (submission.kind !== 'batch') throw failure;
    refused.set(entry, failure);
    return null;
  }
}

function entryAt(fates: ReadonlyMap<SentEntry, EntryFate>, place: number): SentEntry {
  for (const [entry, fate] of fates) {
    if (fate.kind === 'reading' && fate.places.includes(place)) return entry;
  }
  throw new Error('a condition failed that no entry had');
}

/** @param amends something is to be decided by what was sent: then it must be on disk, also without sets */
async function commit(
  { services: { pipeline }, submission, source }: Taking,
  sets: readonly DeliveredSet[],
  amends: boolean,
): Promise<Committed> {
  const { caller, bytes, contentType } = submission;
  const sender = { ...caller, synchronised: source?.synchronised ?? false };
  const arrival = { bytes, contentType };
  if (sets.length > 0) return pipeline.receiveDelivery(sender, arrival, sets);
  if (!amends) return { envelope: null, repeat: false, parts: [] };
  const content = { status: 200, answer: Buffer.alloc(0), action: 'fhir-amended' };
  return { ...(await pipeline.keepDelivery(sender, arrival, content)), parts: [] };
}
