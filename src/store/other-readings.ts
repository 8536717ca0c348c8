/** The readings of one patient that others are judged against. */
import type { ClientBase } from 'pg';
import type { Limits } from '../vitals/limits.js';
import type { EarlierReading, PastReading, Reading } from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import { readEarlierReadings, windowOf } from './judging-facts.js';
import { historyWindowOf, readHistory } from './patient-history.js';

/** What rules hold a reading against: readings near in time, and the patient's own further back. */
export interface OtherReadings {
  readonly earlier: readonly EarlierReading[];
  readonly history: readonly PastReading[];
}

/** Those that matter to these readings of the patient, as they stand now. */
export async function readOtherReadings(
  client: ClientBase,
  patientKey: number,
  readings: readonly Reading[],
  limits: Pick<Limits, 'comparedMs' | 'historyMs'>,
  unitOf: Judging['unitOf'],
): Promise<OtherReadings> {
  const window = windowOf(patientKey, readings, limits.comparedMs);
  const earlier = await readEarlierReadings(client, [window], unitOf);
  const past = historyWindowOf(patientKey, readings, limits.historyMs);
  const history = await readHistory(client, [past]);
  return {
    earlier: earlier.get(patientKey) ?? [],
    history: history.get(patientKey) ?? [],
  };
}
