/** The set in JSON, as the gateway's own schema has it. */
import type { ClaimedPatient, IncomingReading, IncomingSet } from '../../vitals/shapes.js';
import type { Sample } from '../devices/sample.js';
import type { Measurement } from '../measurement.js';
import type { Person } from '../person.js';
import { renderMoment } from '../../serve/fhir/render-moment.js';

export function writeSet(measurement: Measurement, setId: string): IncomingSet {
  const { device, claimed, takenAt, samples } = measurement;
  const { visit, place } = claimed;
  return {
    setId,
    patient: claimOf(claimed),
    ...(visit !== undefined && { encounter: { identifier: visit } }),
    takenAt: renderMoment(takenAt),
    ...(device.operator !== undefined && { recorder: { identifier: device.operator } }),
    ...(place !== undefined && { location: place }),
    readings: samples.map(readingOf),
  };
}

function claimOf({ identifier, birthDate, familyName }: Person): ClaimedPatient {
  return {
    identifier,
    ...(birthDate !== undefined && { birthDate }),
    ...(birthDate === undefined && familyName !== undefined && { familyName }),
  };
}

/** A device without a signal shows zero, a thermometer nothing at all. */
function readingOf({ reading, signal }: Sample): IncomingReading {
  if (signal !== 'lost') return reading;
  if (reading.vital === 'body-temperature') {
    const { vital, method, device } = reading;
    return {
      vital,
      ...(method && { method }),
      ...(device && { device }),
      absent: 'not-possible',
    };
  }
  return reading.vital === 'blood-pressure'
    ? { ...reading, systolic: 0, diastolic: 0, mean: 0 }
    : { ...reading, value: 0 };
}
