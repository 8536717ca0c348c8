/**
 * Judges a set on this device by the very modules that the gateway judges with, for the time without a
 * network. What only the gateway knows is left out: earlier readings, the register, whose a device is.
 * The patient is taken to be who the set says, with what the register told when it was last asked.
 */
import { normaliseSet } from '../../../normalise/normalise-set.js';
import { runRules } from '../../../rules/run.js';
import { decideVerdicts } from '../../../verdict/decide.js';
import { judgedAnswer } from '../../../vitals/answers.js';
import type { Fault } from '../../../vitals/incoming.js';
import type { JudgingContext, RegisteredPatient } from '../../../vitals/shapes.js';
import { limitsOf } from '../../../vitals/site-rules.js';
import type { SiteRules } from '../../../vitals/site-rules.js';
import type { FoundPatient, SetAnswer, SetJson } from '../door.js';
import { formFaults } from './form-faults.js';

/** By what the gateway judged when this device last heard of it. */
export interface JudgedBy {
  readonly edition: string;
  readonly rules: Partial<SiteRules>;
}

const NOTHING_KNOWN = { encounterOfAnother: false, earlier: [], history: [] };
/** The page's own source: a person stands by each reading. */
const PAGES = { attended: true, secondIdentifierRequired: false };

/**
 * The answer in the form of `POST /sets/check`, or what the gateway would refuse it for.
 * @param nowMs by the gateway's clock, as far as this device knows it; ms since the epoch
 */
export function checkHere(
  set: SetJson,
  patient: FoundPatient | null,
  { edition, rules }: JudgedBy,
  nowMs: number,
): { readonly answer: SetAnswer } | { readonly faults: readonly Fault[] } {
  const faults = formFaults(set);
  if (faults.length > 0) return { faults };
  const normalised = normaliseSet(set);
  const context: JudgingContext = {
    ...NOTHING_KNOWN,
    set: normalised,
    receivedAtMs: nowMs,
    patient: registered(set, patient),
    source: PAGES,
    limits: limitsOf(rules),
  };
  const judged = decideVerdicts(context, runRules(context), Number(edition));
  const answer = judgedAnswer(normalised, null, judged, { idOf: () => null, discreet: false });
  return { answer: { ...answer, edition } as unknown as SetAnswer };
}

function registered(set: SetJson, patient: FoundPatient | null): RegisteredPatient {
  const { birthDate = null, familyName = null } = set.patient;
  if (patient === null) return { birthDate, familyName, gender: null };
  return {
    birthDate: patient.birthDate,
    familyName: patient.familyName,
    gender: patient.gender,
  };
}
