/** The rows of a set that was just judged. */
import type { JudgedSet, NormalisedSet } from '../vitals/shapes.js';
import type { Names } from './names.js';
import { firstRecord } from './reading-records.js';
import type { SetPlace } from './reading-records.js';
import { readingId } from './reading-rows.js';
import type { Envelope } from './submission-records.js';

/** First versions of its readings, and whose they are. */
export function draftRecords(
  { submissionId, sourceKey }: Envelope,
  content: { readonly set: NormalisedSet; readonly recorderAsserted: boolean },
  judged: JudgedSet,
  names: Names,
): { readonly patientKey: number; readonly records: Record<string, unknown>[] } {
  const { set, recorderAsserted } = content;
  const place: SetPlace = {
    ...names.patient(set.patient.identifier),
    ...{ setId: set.setId, sourceKey },
    recorderKey: names.person(set.recorder),
    recorderAsserted: set.recorder === null ? null : recorderAsserted,
    placeKey: names.place(set.location),
  };
  const records = judged.readings.map((one) => {
    const id = readingId(submissionId, one.reading.index);
    return firstRecord(id, place, one, judged.edition, names.device(one.reading.device));
  });
  return { patientKey: place.patientKey, records };
}
