/** The sets that the bytes of a message hold, as the messages of its source are read today. */
import { parseMessage } from '../intake/hl7v2/parse-message.js';
import { readHl7 } from '../intake/hl7v2/read-hl7.js';
import { readFhir } from './read-fhir.js';
import type { Pool } from '../store/pool.js';
import type { DeliveredSet } from '../vitals/shapes.js';
import type { SourceProfile } from '../vitals/source-profile.js';

/** None for what brings no readings, or is of no kind that is read by a mapping. */
export async function readDelivery(
  pool: Pool,
  bytes: Buffer,
  contentType: string,
  profile: SourceProfile,
): Promise<readonly DeliveredSet[]> {
  if (contentType.startsWith('application/fhir+json')) {
    return (await readFhir(pool, bytes, profile)).delivery?.sets ?? [];
  }
  if (!contentType.startsWith('application/hl7-v2')) return [];
  const delivery = readHl7(parseMessage(bytes), profile);
  return delivery.kind === 'observations' ? delivery.sets : [];
}
