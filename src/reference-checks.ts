/** Readings against a known value: read, compared, kept, answered. */
import { editionName } from './vitals/answers.js';
import { checkReferenceCheck } from './contract/compile.js';
import { makeEnvelope } from './envelope.js';
import type { Arrival } from './envelope.js';
import { readJson } from './intake/set-json/read-json.js';
import { normaliseReading } from './normalise/normalise-reading.js';
import { problemBody } from './problem.js';
import type { EditionShelf } from './store/edition-shelf.js';
import type { Names } from './store/names.js';
import type { Pool } from './store/pool.js';
import { keepReferenceCheck } from './store/reference-checks.js';
import type { CheckOutcome, JudgedCheck } from './store/reference-checks.js';
import { judgeReference } from './verdict/judge-reference.js';
import { CATALOGUE } from './vitals/catalogue.js';
import type { Limits } from './vitals/limits.js';
import type {
  IncomingReferenceCheck,
  ReferencePart,
  ReferenceTolerance,
} from './vitals/reference-check.js';
import type { Fault, IncomingReading, Reading } from './vitals/shapes.js';
import type { Part } from './vitals/words.js';

export interface ReferenceCheckServices {
  readonly pool: Pool;
  readonly names: Names;
  readonly editions: EditionShelf;
  readonly clock: () => number;
}

/** Compares one reading with its known value and keeps both; the answer is kept with them. */
export async function receiveReferenceCheck(
  { pool, names, editions, clock }: ReferenceCheckServices,
  arrival: Arrival,
): Promise<Pick<CheckOutcome, 'status' | 'answer'>> {
  const receivedAtMs = clock();
  const envelope = await makeEnvelope(names, arrival, 'reference-check', receivedAtMs);
  const read = readCheck(arrival, receivedAtMs);
  if ('check' in read) await learnNames(names, read.check);
  return keepReferenceCheck(pool, editions, envelope, ({ number, limits }) => {
    if (!('check' in read)) return refused(read.faults);
    const judged = judge(read.check, read.readings, limits);
    if (!judged.ok) return refused(judged.faults);
    const check = toJudged(
      read.check,
      read.readings.reading,
      judged.parts,
      names,
      envelope.personKey,
    );
    return { status: 201, answer: answerOf(envelope.submissionId, check, number), check };
  });
}

interface Readings {
  readonly reading: Reading;
  readonly setValue: Reading;
}

type ReadCheck =
  | { readonly check: IncomingReferenceCheck; readonly readings: Readings }
  | { readonly faults: readonly Fault[] };

function readCheck({ sender, bytes }: Arrival, receivedAtMs: number): ReadCheck {
  const read = readJson(bytes);
  const checked = read.ok ? checkReferenceCheck(read.value) : read;
  if (!checked.ok) return { faults: checked.faults };
  const check = checked.value;
  const faults = faultsTogether(check, sender.person);
  return faults.length > 0 ? { faults } : { check, readings: normalise(check, receivedAtMs) };
}

/** What the schema cannot say. */
function faultsTogether(
  { recorder, setValue, tolerance }: IncomingReferenceCheck,
  person: Arrival['sender']['person'],
): Fault[] {
  const faults: Fault[] = [];
  if (Object.keys(setValue).every((member) => member === 'unit')) {
    faults.push({ pointer: '/setValue', message: 'names no number' });
  }
  if (tolerance !== undefined && Object.keys(tolerance).length !== 1) {
    faults.push({ pointer: '/tolerance', message: 'takes exactly one of "percent" and "amount"' });
  }
  const named = recorder?.identifier;
  const another = named?.system !== person?.system || named?.value !== person?.value;
  if (person !== null && named !== undefined && another) {
    const message = 'is not the person who signed in; leave it out';
    faults.push({ pointer: '/recorder', message });
  }
  return faults;
}

/** The known value is put into the same terms in the same way as a reading of that sign. */
function normalise(check: IncomingReferenceCheck, receivedAtMs: number): Readings {
  const { reading, setValue } = check;
  const takenAt = check.takenAt ?? { epochMs: receivedAtMs, offsetMinutes: 0 };
  const unit = setValue.unit ?? reading.unit ?? CATALOGUE[reading.vital].unit ?? undefined;
  const known: IncomingReading = {
    vital: reading.vital,
    ...(reading.method !== undefined && { method: reading.method }),
    ...setValue,
    ...(unit !== undefined && { unit }),
  };
  return {
    reading: normaliseReading(reading, 0, { takenAt }),
    setValue: normaliseReading(known, 0, { takenAt }),
  };
}

async function learnNames(
  names: Names,
  { recorder, reading }: IncomingReferenceCheck,
): Promise<void> {
  if (recorder !== undefined) await names.learnPeople([recorder.identifier]);
  if (reading.device !== undefined) await names.learnDevices([reading.device.identifier]);
}

function judge(
  { tolerance }: IncomingReferenceCheck,
  readings: Readings,
  limits: Limits,
): ReturnType<typeof judgeReference> {
  return judgeReference({ ...readings, tolerance: toleranceOf(tolerance), limits });
}

function toleranceOf(given: IncomingReferenceCheck['tolerance']): ReferenceTolerance | null {
  if (given?.percent !== undefined) return { percent: given.percent };
  return given?.amount === undefined ? null : { amount: given.amount };
}

function toJudged(
  { kind, recorder }: IncomingReferenceCheck,
  reading: Reading,
  parts: readonly ReferencePart[],
  names: Names,
  signedInKey: number | null,
): JudgedCheck {
  return {
    kind,
    reading,
    parts,
    passed: parts.every((part) => part.passed),
    personKey: signedInKey ?? names.person(recorder?.identifier ?? null),
    personAsserted: signedInKey === null && recorder !== undefined,
    deviceKey: names.device(reading.device),
  };
}

function refused(faults: readonly Fault[]): CheckOutcome {
  const count = faults.length === 1 ? 'one fault' : `${faults.length} faults`;
  const detail = `The body was kept, but it cannot be taken: it has ${count}.`;
  return { status: 400, answer: problemBody({ status: 400, detail, errors: faults }), check: null };
}

/** One part of a check, in numbers. */
export interface RenderedPart {
  readonly part: Part;
  readonly setValue: number;
  readonly read: number;
  readonly difference: number;
  readonly differencePercent: number;
  readonly tolerance: ReferencePart['tolerance'];
  readonly passed: boolean;
}

/** A part as people read it: numbers, and the difference also as a percentage of the known value. */
export function renderPart({
  part,
  set,
  read,
  difference,
  tolerance,
  passed,
}: ReferencePart): RenderedPart {
  const percent = Math.round((Number(difference) / Number(set)) * 1000) / 10;
  return {
    part,
    setValue: Number(set),
    read: Number(read),
    difference: Number(difference),
    differencePercent: percent,
    tolerance,
    passed,
  };
}

function answerOf(
  checkId: string,
  { kind, reading, parts, passed }: JudgedCheck,
  edition: number,
): Buffer {
  const { vital, method, site, takenAt, device } = reading;
  const answer = {
    check: checkId,
    kind,
    takenAt: new Date(takenAt.epochMs),
    ...{ vital, method, site },
    unit: CATALOGUE[vital].unit,
    parts: parts.map(renderPart),
    passed,
    device,
    edition: editionName(edition),
  };
  return Buffer.from(JSON.stringify(answer));
}
