/** Takes what was sent in through intake and pipeline, and tells what became of each entry. */
import type { PartOutcome } from '../../deliveries.js';
import { ConditionFailed } from '../../errors.js';
import type { EntryFate, Register, SentEntry, Surroundings } from '../../fhir-intake.js';
import type { DirectorySource } from '../../store/source-directory.js';
import type { DeliveredSet } from '../../vitals/shapes.js';
import { NO_MAPPING } from '../../vitals/source-profile.js';
import type { SourceProfile } from '../../vitals/source-profile.js';
import type { HttpError } from '../http/http-error.js';
import type { Caller } from '../http/route.js';
import { answerEntries } from './answer-entries.js';
import { askRegister } from './ask-register.js';
import type { DeliveryServices } from './delivery-services.js';
import { conditionError, fateError, formErrors, joinErrors } from './entry-errors.js';
import { readQuery } from './read-criteria.js';
import type { FhirSite } from './site.js';
import type { Delivered, EntryResult, Submission } from './submission.js';

/** What the pipeline took: the fates of the entries that were not refused. */
interface Taken {
  readonly fates: ReadonlyMap<SentEntry, EntryFate>;
  readonly parts: readonly PartOutcome[];
}

/**
 * Takes a delivery whole; of a batch, what can be taken of it.
 * @throws HttpError when something is refused that is no batch's: then nothing of it was taken
 */
export async function deliver(
  site: FhirSite,
  services: DeliveryServices,
  submission: Submission,
): Promise<Delivered> {
  const source = await services.sourceOf(submission.caller.sourceKey);
  const around = surroundingsOf(site, submission, source);
  const refused = new Map<SentEntry, HttpError>(formErrors(submission.entries));
  const sound = submission.entries.filter((entry) => !refused.has(entry));
  const register = await askRegister(services.pool, services.intake.questionsOf(sound, around));
  let taken: Taken | null = null;
  while (taken === null) {
    taken = await take(services, submission, source, around, register, refused);
  }
  const answers = await answerEntries(site, services, submission, taken.fates, taken.parts);
  return {
    kept: taken.parts.length > 0,
    results: submission.entries.map((entry): EntryResult => {
      const error = refused.get(entry);
      if (error !== undefined) return { kind: 'refused', error };
      const answer = answers.get(entry);
      if (answer === undefined) throw new Error('an entry was taken and has no answer');
      return { kind: 'answered', answer };
    }),
  };
}

/**
 * Null: of a batch an entry's condition did not hold, which the commit alone can tell; nothing was kept,
 * and the rest is to be taken without it.
 */
async function take(
  services: DeliveryServices,
  submission: Submission,
  source: DirectorySource | null,
  around: Surroundings,
  register: Register,
  refused: Map<SentEntry, HttpError>,
): Promise<Taken | null> {
  const left = submission.entries.filter((entry) => !refused.has(entry));
  const { sets, fates } = services.intake.readDelivery(left, around, register);
  const taken = new Map<SentEntry, EntryFate>();
  left.forEach((entry, i) => {
    const fate = fates[i];
    if (fate?.kind === 'refused') refused.set(entry, fateError(fate.faults));
    else if (fate !== undefined) taken.set(entry, fate);
  });
  if (submission.kind !== 'batch' && refused.size > 0) {
    throw joinErrors(submission.entries.flatMap((entry) => refused.get(entry) ?? []));
  }
  try {
    return { fates: taken, parts: await receive(services, submission, source, sets) };
  } catch (error) {
    if (!(error instanceof ConditionFailed)) throw error;
    const entry = entryAt(taken, error.index);
    const failure = conditionError(error.reason, entry.path);
    if (submission.kind !== 'batch') throw failure;
    refused.set(entry, failure);
    return null;
  }
}

function entryAt(taken: ReadonlyMap<SentEntry, EntryFate>, place: number): SentEntry {
  for (const [entry, fate] of taken) {
    if (fate.kind === 'reading' && fate.places.includes(place)) return entry;
  }
  throw new Error('a condition failed that no entry had');
}

async function receive(
  { pipeline }: DeliveryServices,
  { caller, bytes, contentType }: Submission,
  source: DirectorySource | null,
  sets: readonly DeliveredSet[],
): Promise<readonly PartOutcome[]> {
  if (sets.length === 0) return [];
  const sender = { ...caller, synchronised: source?.synchronised ?? false };
  return (await pipeline.receiveDelivery(sender, { bytes, contentType }, sets)).parts;
}

function surroundingsOf(
  { baseUrl }: FhirSite,
  { kind, digits, caller }: Submission,
  source: DirectorySource | null,
): Surroundings {
  return {
    linked: kind === 'transaction',
    baseUrl,
    profile: source?.profile ?? profileOf(caller),
    person: caller.person,
    digits,
    readCriteria: readQuery,
  };
}

function profileOf({ attended }: Caller): SourceProfile {
  return { attended, zone: null, defaultAuthority: null, authorities: {}, mapping: NO_MAPPING };
}
