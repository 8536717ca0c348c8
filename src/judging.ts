/** The stages as the store needs them: judging is composed here and handed down, so that stages stay apart. */
import { isDeepStrictEqual } from 'node:util';
import { judgedAnswer } from './vitals/answers.js';
import { checkSet } from './contract/compile.js';
import { readJson } from './intake/set-json/read-json.js';
import { normaliseReading } from './normalise/normalise-reading.js';
import { normaliseSet } from './normalise/normalise-set.js';
import { problemBody } from './problem.js';
import { RULES } from './rules/index.js';
import type { RuleFailureListener } from './rules/rule.js';
import { makeWatchedRunner } from './rules/watch-slow.js';
import type { Deciding } from './store/deciding.js';
import type { EditionShelf } from './store/edition-shelf.js';
import { readingId } from './store/reading-rows.js';
import type { HoldMinutes } from './store/reading-records.js';
import type { Rereading } from './store/rejudge-identity.js';
import { decideVerdicts } from './verdict/decide.js';
import { decisionEffect } from './verdict/decision-table.js';
import { CATALOGUE } from './vitals/catalogue.js';
import type { JudgedSet, LinkedReading, NormalisedSet } from './vitals/shapes.js';

/** An unknown patient's set waits this long for the patient to be registered. */
const REGISTRATION_WAIT_MS = 24 * 60 * 60 * 1000;

export interface JudgingOptions {
  readonly editions: EditionShelf;
  readonly holdMinutes: HoldMinutes;
  readonly onRuleFailure: RuleFailureListener;
  readonly onSlowRule: (ruleId: string, tookMs: number) => void;
}

/** Everything that judging, deciding and judging again need from the stages. */
export type Stages = Deciding & Rereading;

/** Rules, then verdicts: one set judged. */
function judgeWith({ onRuleFailure, onSlowRule }: JudgingOptions): Stages['judge'] {
  const runRules = makeWatchedRunner(RULES, {
    now: () => performance.now(),
    onSlow: onSlowRule,
  });
  return (facts, { limits, number }) => {
    const context = { ...facts, limits };
    return decideVerdicts(context, runRules(context, onRuleFailure), number);
  };
}

function answerSet(
  set: NormalisedSet,
  submissionId: string,
  judged: JudgedSet,
  linked: readonly LinkedReading[],
): { status: number; body: Buffer } {
  const answer = judgedAnswer(set, submissionId, judged, {
    idOf: (index) => readingId(submissionId, index),
    discreet: false,
    linked,
  });
  const nothingTaken =
    judged.verdict === 'rejected' && linked.length === 0 && everyRejected(judged);
  return {
    status: nothingTaken ? 422 : 201,
    body: Buffer.from(JSON.stringify(answer)),
  };
}

function everyRejected(judged: JudgedSet): boolean {
  return judged.readings.every((reading) => reading.verdict === 'rejected');
}

function sameContent(one: Buffer, other: Buffer): boolean {
  const [left, right] = [readJson(one), readJson(other)];
  return left.ok && right.ok && isDeepStrictEqual(left.value, right.value);
}

function conflict(setId: string): Buffer {
  return problemBody({
    status: 409,
    detail: `Another set was sent under the setId ${setId} before. Nothing was changed: send this one under a setId of its own, or correct the readings of the first.`,
  });
}

/** The stored bytes were taken by the contract once; they are read by it again. */
function readAgain(body: Buffer): NormalisedSet {
  const read = readJson(body);
  const checked = read.ok ? checkSet(read.value) : read;
  if (!checked.ok || !('set' in checked))
    throw new Error('a kept set no longer passes the contract');
  return normaliseSet(checked.set);
}

/** Puts the stages together. */
export function composeStages(options: JudgingOptions): Stages {
  const { editions, holdMinutes } = options;
  return {
    judge: judgeWith(options),
    answer: answerSet,
    sameContent,
    conflict,
    unitOf: (vital) => CATALOGUE[vital].unit,
    editions,
    holdMinutes,
    decisionEffect,
    normaliseReading,
    readAgain,
    registrationWaitMs: REGISTRATION_WAIT_MS,
    unknownPatientRule: 'patient-unknown',
  };
}
