import type { IncomingSet, NormalisedSet } from '../vitals/shapes.js';
import { toMoment } from './moment.js';
import { normaliseReading, type ReadingDefaults } from './normalise-reading.js';

/** Puts one set into the gateway's own terms: canonical units, exact decimals, resolved times. */
export function normaliseSet(incoming: IncomingSet): NormalisedSet {
  const takenAt = toMoment(incoming.takenAt);
  const defaults: ReadingDefaults = { takenAt, position: incoming.position ?? null };
  return {
    // RFC 9562 §4: a UUID is compared without regard to case, so that one set has one key.
    setId: incoming.setId.toLowerCase(),
    patient: incoming.patient,
    encounter: incoming.encounter?.identifier ?? null,
    recorder: incoming.recorder?.identifier ?? null,
    location: incoming.location ?? null,
    takenAt,
    readings: incoming.readings.map((reading, index) => normaliseReading(reading, index, defaults)),
  };
}
