/** The answers to entries that were taken, once all of it is on disk. */
import type { PartOutcome } from '../../deliveries.js';
import type { EntryFate, SentEntry } from '../../fhir-intake.js';
import { findVersions } from '../../store/find-versions.js';
import type { ToldId } from '../../store/told-devices.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { DeliveryServices } from './delivery-services.js';
import { plainAnswer, readingAnswer } from './entry-answers.js';
import type { AnswerMode, EntryAnswer, ReadingFacts } from './entry-answers.js';
import { answersByPlace } from './read-answers.js';
import type { PlacedAnswer } from './read-answers.js';
import type { FhirSite } from './site.js';
import type { Submission } from './submission.js';

type Fates = ReadonlyMap<SentEntry, EntryFate>;

export async function answerEntries(
  { baseUrl }: FhirSite,
  services: DeliveryServices,
  { kind, caller }: Submission,
  fates: Fates,
  parts: readonly PartOutcome[],
): Promise<ReadonlyMap<SentEntry, EntryAnswer>> {
  const placed = answersByPlace(parts);
  const published = await findVersions(services.pool, publishedVersions([...placed.values()]));
  const told = await noteDevices(services, fates);
  const mode: AnswerMode = { baseUrl, isTransaction: kind === 'transaction', caller };
  const answers = new Map<SentEntry, EntryAnswer>();
  for (const [entry, fate] of fates) {
    if (fate.kind === 'refused') continue;
    if (fate.kind !== 'reading') {
      answers.set(entry, plainAnswer(fate, told.get(entry) ?? null, mode));
      continue;
    }
    const [own, ...others] = fate.places.map((place) => factsAt(place, placed, published));
    if (own === undefined) throw new Error('a reading has no place');
    answers.set(entry, readingAnswer(own, others, entry.criteria !== null, mode));
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
): ReadingFacts {
  const found = placed.get(place);
  if (found === undefined) throw new Error('a reading was taken and has no answer');
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
