import type {
  ClaimedPatient,
  DeliveredSet,
  IdentityClaim,
  IncomingSet,
  Moment,
  NormalisedSet,
} from '../vitals/shapes.js';
import { toMoment } from './moment.js';
import { normaliseReading, type ReadingDefaults } from './normalise-reading.js';

/** Puts one set into the gateway's own terms: canonical units, exact decimals, resolved times. */
export function normaliseSet(incoming: IncomingSet): NormalisedSet {
  // RFC 9562 §4: a UUID is compared without regard to case, so that one set has one key.
  const setId = incoming.setId.toLowerCase();
  return { setId, patient: incoming.patient, ...normaliseContent(incoming, incoming.takenAt) };
}

/** What a delivered set gets from the gateway before it is normalised. */
export interface DeliveryPlace {
  readonly setId: string;
  readonly patient: ClaimedPatient;
  readonly claim: IdentityClaim;
  /** Stands where a reading has no time: its report says so. */
  readonly receivedAt: Moment;
}

/** The same for a set that a device's message brought. */
export function normaliseDelivery(
  delivered: DeliveredSet,
  { setId, patient, claim, receivedAt }: DeliveryPlace,
): NormalisedSet {
  const content = normaliseContent(delivered, delivered.takenAt ?? receivedAt);
  return { setId, patient, claim, ...content };
}

type Content = Omit<NormalisedSet, 'setId' | 'patient' | 'claim'>;

function normaliseContent(
  incoming: Pick<IncomingSet, 'encounter' | 'recorder' | 'location' | 'position' | 'readings'>,
  takenAtTold: string | Moment,
): Content {
  const takenAt = typeof takenAtTold === 'string' ? toMoment(takenAtTold) : takenAtTold;
  const defaults: ReadingDefaults = { takenAt, position: incoming.position ?? null };
  return {
    encounter: incoming.encounter?.identifier ?? null,
    recorder: incoming.recorder?.identifier ?? null,
    location: incoming.location ?? null,
    takenAt,
    readings: incoming.readings.map((reading, place) =>
      normaliseReading(reading, reading.index ?? place, defaults),
    ),
  };
}
