/** One kept reading judged anew: corrected, or under another patient. */
import type { ClientBase } from 'pg';
import type {
  ClaimedPatient,
  Finding,
  JudgedReading,
  JudgingFacts,
  Reading,
  RegisteredPatient,
} from '../vitals/shapes.js';
import type { Judging } from './commit-sets.js';
import type { Edition } from './edition-shelf.js';
import type { PatientName } from './names.js';
import { readOtherReadings } from './other-readings.js';
import type { OtherReadings } from './other-readings.js';
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

const NO_OTHERS: OtherReadings = { earlier: [], history: [] };

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
  const { earlier, history } = one.doubted ? NO_OTHERS : await readOthers(client, judging, one);
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
    earlier,
    history,
  };
  const set = judging.judge(facts, one.edition);
  const judged = set.readings[0];
  if (judged === undefined) throw new Error('judging one reading gave no verdict');
  return { judged, publish: publicationCauses(set) };
}

/** Without the reading itself. */
async function readOthers(
  client: ClientBase,
  judging: Judging,
  { readingId, reading, patient, edition }: Rejudged,
): Promise<OtherReadings> {
  const { earlier, history } = await readOtherReadings(
    client,
    patient.patientKey,
    [reading],
    edition.limits,
    judging.unitOf,
  );
  return {
    earlier: earlier.filter((other) => other.readingId !== readingId),
    history: history.filter((past) => past.readingId !== readingId),
  };
}
