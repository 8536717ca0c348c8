/** The answers to entries that were taken, once all of it is on disk. */
import type { EntryFate, SentEntry } from '../../compose/fhir-intake.js';
import { findVersions } from '../../store/find-versions.js';
import type { ToldId } from '../../store/told-devices.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { DeliveryServices } from './delivery-services.js';
import { plainAnswer, readingAnswer, takenBefore } from './entry-answers.js';
import type { AnswerMode, EntryAnswer, ReadingFacts } from './entry-answers.js';
import { answersByPlace } from './read-answers.js';
import type { PlacedAnswer } from './read-answers.js';
import type { FhirSite } from './site.js';
import type { Submission } from './submission.js';
import type { Taken } from './take-delivery.js';

type Fates = ReadonlyMap<SentEntry, EntryFate>;

export async function answerEntries(
  { baseUrl }: FhirSite,
  services: DeliveryServices,
  { kind, caller }: Submission,
  { fates, committed: { parts } }: Taken,
): Promise<ReadonlyMap<SentEntry, EntryAnswer>> {
  const placed = answersByPlace(parts);
  const published = await findVersions(services.pool, publishedVersions([...placed.values()]));
  const told = await noteDevices(services, fates);
  const mode: AnswerMode = { baseUrl, isTransaction: kind === 'transaction', caller };
  const answers = new Map<SentEntry, EntryAnswer>();
  for (const [entry, fate] of fates) {
    if (fate.kind === 'refused' || fate.kind === 'amendment') continue;
    if (fate.kind !== 'reading') {
      answers.set(entry, plainAnswer(fate, told.get(entry) ?? null, mode));
      continue;
    }
    const [place, ...beside] = fate.places;
    const own = factsAt(place, placed, published);
    const others = beside.flatMap((one) => factsAt(one, placed, published) ?? []);
    answers.set(
      entry,
      own === null ? takenBefore(mode) : readingAnswer(own, others, entry.criteria !== null, mode),
    );
  }
  return answers;
}

function publishedVersions(
  placed: readonly PlacedAnswer[],
): { readonly id: string; readonly version: number }[] {
  return placed.flatMap(({ reading: { observation, reading, version } }) =>
    observation === undefined ? [] : [{ id: reading, version }],
  );
}

function factsAt(
  place: number,
  placed: ReadonlyMap<number, PlacedAnswer>,
  published: ReadonlyMap<string, ReadingVersion>,
): ReadingFacts | null {
  const found = placed.get(place);
  // The very same bytes came before, when this entry brought no reading: only what was taken is answered.
  if (found === undefined) return null;
  return { ...found, published: published.get(found.reading.reading) ?? null };
}

/** In one statement; devices that the delivery told of, each under its id. */
async function noteDevices(
  services: DeliveryServices,
  fates: Fates,
): Promise<ReadonlyMap<SentEntry, ToldId>> {
  const devices = [...fates].flatMap(([entry, fate]) =>
    fate.kind === 'device' ? [{ entry, told: fate.told }] : [],
  );
  const ids = await services.noteDevices(
    devices.map(({ told: { identifier, path, test, setting } }) => ({
      identifier,
      path,
      testing: test,
      setting,
    })),
  );
  return new Map(
    devices.flatMap(({ entry }, i): [SentEntry, ToldId][] => {
      const id = ids[i];
      return id === undefined ? [] : [[entry, id]];
    }),
  );
}
