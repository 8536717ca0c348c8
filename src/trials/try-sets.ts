/** Sets told as they are understood and would be judged; nothing of them is kept. */
import { judgedAnswer } from '../vitals/answers.js';
import type { Stages } from '../judging.js';
import { normaliseDelivery } from '../normalise/normalise-set.js';
import { settleIdentity } from '../deliveries/settle-identity.js';
import { readCheckFacts } from '../store/check-facts.js';
import type { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import type { DeliveredSet, NormalisedSet, SourceFacts } from '../vitals/shapes.js';
import type { SourceProfile } from '../vitals/source-profile.js';
import { UNIDENTIFIED_SYSTEM } from '../vitals/unidentified.js';

export interface TrialServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly stages: Stages;
  readonly clock: () => number;
}

/** Whose message it is taken for. */
export interface TriedSource extends SourceFacts {
  readonly name: string;
  /** With the mapping that is tried. */
  readonly profile: SourceProfile;
}

/** What was understood: JSON for the engineer who wires the source. */
export type Understanding = Readonly<Record<string, unknown>>;

/** As each part would be kept: one a patient. */
export async function trySets(
  services: TrialServices,
  source: TriedSource,
  sets: readonly DeliveredSet[],
): Promise<Understanding[]> {
  const receivedAtMs = services.clock();
  const told: Understanding[] = [];
  for (const delivered of sets) {
    const parts = await settleIdentity(services.pool, source.name, delivered, receivedAtMs);
    for (const { set, patient, claim } of parts) {
      const receivedAt = { epochMs: receivedAtMs, offsetMinutes: 0 };
      const place = { setId: '', patient, claim, receivedAt };
      const answer = await trySet(services, source, normaliseDelivery(set, place));
      told.push({ ...answer, unread: set.unread ?? [] });
    }
  }
  return told;
}

/** What was understood of a set, and what would be said of it. */
export async function trySet(
  { pool, names, stages, clock }: TrialServices,
  { attended, secondIdentifierRequired, synchronised }: TriedSource,
  set: NormalisedSet,
): Promise<Understanding> {
  const nowMs = clock();
  const { edition, ...facts } = await readCheckFacts(pool, names, set, stages, nowMs);
  const source = {
    ...{ attended, secondIdentifierRequired },
    ...(synchronised !== undefined && { synchronised }),
  };
  const verdicts = stages.judge({ set, receivedAtMs: nowMs, source, ...facts }, edition);
  const answer = judgedAnswer(set, null, verdicts, { idOf: () => null, discreet: true });
  const unnamed = set.patient.identifier.system === UNIDENTIFIED_SYSTEM;
  return {
    patient: unnamed ? null : { ...set.patient, registered: facts.patient !== null },
    patientBy: set.claim?.by ?? 'named',
    ...{ encounter: set.encounter, recorder: set.recorder, location: set.location },
    understood: set.readings.map((reading) => ({
      index: reading.index,
      at: reading.report?.at ?? null,
      ...{ vital: reading.vital, method: reading.method, site: reading.site, side: reading.side },
      device: reading.device,
      takenAt: new Date(reading.takenAt.epochMs).toISOString(),
      ...{ entered: reading.entered, doubts: reading.report?.doubts ?? [] },
      signal: reading.report?.signal ?? [],
    })),
    ...answer,
  };
}
