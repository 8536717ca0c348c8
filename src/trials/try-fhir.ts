/** One FHIR Observation or Bundle of a source, told as it would be understood and judged. */
import { readFhir } from '../deliveries/read-fhir.js';
import { trySets } from './try-sets.js';
import type { TrialServices, TriedSource, Understanding } from './try-sets.js';

export async function tryFhir(
  services: TrialServices,
  source: TriedSource,
  bytes: Buffer,
): Promise<Understanding> {
  const { delivery, entries, problems } = await readFhir(services.pool, bytes, source.profile);
  return {
    kind: 'fhir',
    faults: problems,
    entries: (delivery?.fates ?? []).map((fate, place) => ({
      at: entries[place]?.at ?? null,
      resourceType: entries[place]?.resource.resourceType ?? null,
      becomes: fate.kind,
      ...('message' in fate && { message: fate.message }),
    })),
    sets: await trySets(services, source, delivery?.sets ?? []),
  };
}
