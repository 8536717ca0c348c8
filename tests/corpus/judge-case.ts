/** Judges the sets of one patient one after the other, in memory, keeping of each what the store would keep. */
import { judgedAnswer } from '../../src/vitals/answers.js';
import { checkSet } from '../../src/contract/compile.js';
import { normaliseDelivery, normaliseSet } from '../../src/normalise/normalise-set.js';
import { runRules } from '../../src/rules/run.js';
import { showToLaterSets, type KnownReadings } from '../../src/store/later-sets.js';
import { judgeNew } from '../../src/store/linked-readings.js';
import { readingId, receivedAtMsOf } from '../../src/store/reading-rows.js';
import { uuid7 } from '../../src/store/uuid7.js';
import { decideVerdicts } from '../../src/verdict/decide.js';
import { latenessMs } from '../../src/vitals/late-arrival.js';
import { buildLimits, DEFAULT_LIMITS, type Limits } from '../../src/vitals/limits.js';
import type {
  DeliveredSet,
  EarlierReading,
  Finding,
  JudgedSet,
  JudgingContext,
  LinkedReading,
  NormalisedSet,
  PastReading,
} from '../../src/vitals/shapes.js';
import { deviceFacts } from './read-corpus.js';
import type { CorpusCase, CorpusSet, Expectation } from './read-corpus.js';

const ATTENDED = { attended: true, secondIdentifierRequired: false };
const PATIENT_KEY = 1;
const CHANGED = {
  document: 'A site of the corpus',
  section: 'its own numbers',
  year: 2026,
  standing: 'proposed',
} as const;

function limitsOf({ settings }: CorpusCase): Limits {
  if (settings === undefined) return DEFAULT_LIMITS;
  return buildLimits(
    Object.fromEntries(
      Object.entries(settings).map(([id, number]) => [id, { at: number, source: CHANGED }]),
    ),
  );
}

const NOBODY = { identifier: { system: '', value: '' } };

/** A set out of a message has no schema: its reader, not a sender, made it. */
function normalise({ set: sent, claim, receivedAt }: CorpusSet): NormalisedSet {
  if (claim !== undefined) {
    const delivered = sent as DeliveredSet & { readonly setId: string };
    return normaliseDelivery(delivered, {
      setId: delivered.setId,
      patient: delivered.patient ?? NOBODY,
      claim,
      receivedAt: { epochMs: Date.parse(receivedAt), offsetMinutes: 60 },
    });
  }
  const checked = checkSet(sent);
  if (!checked.ok) throw new Error(`the contract refuses it: ${JSON.stringify(checked.faults)}`);
  return normaliseSet(checked.set);
}

/** Of what is known, that which the store would read for a set (see `commit-sets.ts`). */
function readKnown(known: KnownReadings, { readings }: NormalisedSet, limits: Limits) {
  const times = readings.map(({ takenAt }) => takenAt.epochMs);
  const [first, last] = [Math.min(...times), Math.max(...times)];
  const earlier = (known.earlier.get(PATIENT_KEY) ?? []).filter(
    ({ takenAt: { epochMs } }) =>
      epochMs >= first - limits.comparedMs && epochMs <= last + limits.comparedMs,
  );
  const vitals = new Set(readings.map(({ vital }) => vital));
  // No case has as many of a sign as the store reads at most.
  const history = (known.history.get(PATIENT_KEY) ?? []).filter(
    ({ vital, takenAt: { epochMs } }) =>
      vitals.has(vital) && epochMs >= first - limits.historyMs && epochMs < last,
  );
  return { earlier, history };
}

/** Earlier readings that a set sends out are out from then on. */
function sendOut(known: KnownReadings, ids: readonly string[]): void {
  const earlier = (known.earlier.get(PATIENT_KEY) ?? []).map((kept): EarlierReading =>
    ids.includes(kept.readingId) ? { ...kept, status: 'preliminary' } : kept,
  );
  known.earlier.set(PATIENT_KEY, earlier);
}

const toFinding = ({ rule, verdict, readings, figures }: Finding) => ({
  rule,
  verdict,
  readings,
  ...(figures?.liftedBy === undefined ? {} : { liftedBy: figures.liftedBy }),
});

const toReading = (
  { reading, verdict, hold, status, interpretation }: JudgedSet['readings'][number],
  receivedAtMs: number,
) => ({
  index: reading.index,
  verdict,
  ...(hold === null ? {} : { hold }),
  status,
  ...(Object.keys(interpretation).length === 0 ? {} : { interpretation }),
  ...(latenessMs(receivedAtMs, reading.takenAt.epochMs) === null ? {} : { late: true }),
});

const inOrder = (all: Iterable<object>): readonly string[] =>
  [...all].map((each) => JSON.stringify(each, Object.keys(each).sort())).sort();

/** An expectation or an outcome with its findings in a known order, to be compared as a whole. */
export function sorted({
  findings,
  resolved = [],
  published = [],
  linked = [],
  ...rest
}: Expectation) {
  return {
    ...rest,
    findings: inOrder(findings),
    resolved: [...resolved].sort(),
    published: [...published].sort(),
    linked,
  };
}

/** One set as it was judged, and what was known of the patient before it. */
export interface JudgedInCase {
  readonly judged: JudgedSet;
  readonly linked: readonly LinkedReading[];
  readonly earlier: readonly EarlierReading[];
  readonly submissionId: string;
  readonly set: NormalisedSet;
}

/** Judges each set of a case after those before it. */
export function judgeInOrder(
  one: CorpusCase,
  run: (context: JudgingContext) => readonly Finding[] = runRules,
): readonly JudgedInCase[] {
  const limits = limitsOf(one);
  const known: KnownReadings = {
    earlier: new Map<number, EarlierReading[]>(),
    history: new Map<number, PastReading[]>(),
    sent: new Map(),
  };
  return one.sets.map((each) => judgeNext(one.patient, each, limits, known, run));
}

function judgeNext(
  patient: CorpusCase['patient'],
  sent: CorpusSet,
  limits: Limits,
  known: KnownReadings,
  run: (context: JudgingContext) => readonly Finding[],
): JudgedInCase {
  const { receivedAt, source = ATTENDED, encounterOfAnother = false, devices } = sent;
  const set = normalise(sent);
  const receivedAtMs = Date.parse(receivedAt);
  const submissionId = `${uuid7(receivedAtMs).slice(0, -4)}0000`;
  const { earlier, history } = readKnown(known, set, limits);
  const facts = {
    ...{ set, receivedAtMs, patient, encounterOfAnother, source, earlier, history },
    ...(devices === undefined ? {} : { devices: deviceFacts(devices) }),
  };
  const { judged, linked } = judgeNew(facts, known.sent.get(PATIENT_KEY), (told) => {
    const context = { ...told, limits };
    return decideVerdicts(context, run(context), 1);
  });
  showToLaterSets(known, PATIENT_KEY, submissionId, judged);
  sendOut(known, judged.publishEarlier);
  return { judged, linked, earlier, submissionId, set };
}

/** What is said of each set of a case, in the form of its expectation. */
export function judgeCase(one: CorpusCase): readonly Expectation[] {
  const places = new Map<string, string>();
  return judgeInOrder(one).map(({ judged, linked, submissionId, set }, at) => {
    const receivedAtMs = receivedAtMsOf(submissionId);
    for (const { index } of set.readings) {
      places.set(readingId(submissionId, index), `${at}/${index}`);
    }
    const placeOf = (id: string): string => places.get(id) ?? id;
    const told = judgedAnswer(set, null, judged, { idOf: () => null, discreet: false, linked });
    return {
      verdict: told.verdict as Expectation['verdict'],
      readings: judged.readings.map((each) => toReading(each, receivedAtMs)),
      findings: judged.findings.map(toFinding) as Expectation['findings'],
      resolved: judged.resolved.map((each) => placeOf(each.readingId)),
      published: judged.publishEarlier.map(placeOf),
      linked: linked.map(({ index }) => index),
    };
  });
}
