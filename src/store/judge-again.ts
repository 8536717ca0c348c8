/** One kept reading judged anew: corrected, or under another patient. */
import type { ClientBase } from 'pg';
import type {
  ClaimedPatient,
  Finding,
  JudgedReading,
  JudgingFacts,
  PastReading,
  Reading,
  RegisteredPatient,
} from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import { windowOf } from './commit-sets.js';
import type { Edition } from './edition-shelf.js';
import { readEarlierReadings } from './judging-facts.js';
import type { PatientName } from './names.js';
import { historyWindowOf, readHistory } from './patient-history.js';
import { publicationCauses } from './publish-held.js';

/** What judging anew came to. */
export interface JudgedAgain {
  readonly judged: JudgedReading;
  /** Held readings of other sets that must go out now, each with the finding that says why. */
  readonly publish: ReadonlyMap<string, Finding>;
}

export interface Rejudged {
  readonly readingId: string;
  readonly setId: string | null;
  readonly reading: Reading;
  readonly patient: PatientName;
  readonly register: RegisteredPatient | null;
  /** Whose reading it is stays in doubt: it is held against nobody's other readings. */
  readonly doubted: boolean;
  /** What is said of the patient, to be held against the register; null: a person vouches for it. */
  readonly claim: ClaimedPatient | null;
  readonly receivedAtMs: number;
  readonly edition: Edition;
  readonly source: JudgingFacts['source'];
}

// With a person vouching, the identity rules are not asked, so the claim itself is never looked at.
const NO_CLAIM: ClaimedPatient = { identifier: { system: '', value: '' } };

/**
 * Judges one reading against the patient's other readings as they stand now (those of its own set
 * included). The patient's lock must be held.
 */
export async function judgeAgain(
  client: ClientBase,
  judging: Judging,
  one: Rejudged,
): Promise<JudgedAgain> {
  const { limits } = one.edition;
  const times = [one.reading.takenAt.epochMs];
  const window = windowOf(one.patient.patientKey, times, limits.comparedMs);
  const near = one.doubted
    ? new Map<number, never>()
    : await readEarlierReadings(client, [window], judging.unitOf);
  const earlier = near.get(one.patient.patientKey) ?? [];
  const history = one.doubted ? [] : await readOwnHistory(client, one);
  const facts: JudgingFacts = {
    set: {
      setId: one.setId ?? one.readingId,
      patient: one.claim ?? NO_CLAIM,
      encounter: null,
      recorder: null,
      location: null,
      takenAt: one.reading.takenAt,
      readings: [one.reading],
    },
    receivedAtMs: one.receivedAtMs,
    patient: one.register,
    identitySettled: one.claim === null,
    encounterOfAnother: false,
    source: one.source,
    earlier: earlier.filter((other) => other.readingId !== one.readingId),
    history,
  };
  const set = judging.judge(facts, one.edition);
  const judged = set.readings[0];
  if (judged === undefined) throw new Error('judging one reading gave no verdict');
  return { judged, publish: publicationCauses(set) };
}

async function readOwnHistory(
  client: ClientBase,
  { readingId, reading, patient, edition }: Rejudged,
): Promise<PastReading[]> {
  const { patientKey } = patient;
  const window = historyWindowOf(patientKey, [reading], edition.limits.historyMs);
  const found = (await readHistory(client, [window])).get(patientKey) ?? [];
  return found.filter((past) => past.readingId !== readingId);
}
