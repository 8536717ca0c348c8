/**
 * From findings to verdicts: per reading the worst that was said about it, for the set the worst of its
 * readings, and the status under which each reading goes out now.
 */
import { makeAgeTeller, type Age } from '../vitals/age.js';
import { deriveValues } from '../vitals/derived-values.js';
import { identityDoubtOf } from '../vitals/identity-doubt.js';
import { interpretReading, isCritical } from '../vitals/interpret.js';
import type { Limits } from '../vitals/limits.js';
import type {
  Finding,
  JudgedReading,
  JudgedSet,
  JudgingContext,
  Reading,
} from '../vitals/shapes.js';
import {
  HOLD_KINDS,
  VERDICTS,
  type Gender,
  type HoldKind,
  type ObservationStatus,
  type Verdict,
} from '../vitals/words.js';
import { isSettled } from '../vitals/settled.js';
import { findUrgent, type WeighedReading } from './find-urgent.js';

const NO_FINDINGS: readonly Finding[] = [];
const NONE_RESOLVED: JudgedSet['resolved'] = [];

/**
 * Decides about one set, by the limits of its context. Pure: the same context, findings and edition
 * give the same verdicts.
 * @param findings what the rules said, lifted holds already turned into notes
 * @param edition the state of rules and limits that they were said by
 */
export function decideVerdicts(
  context: JudgingContext,
  findings: readonly Finding[],
  edition: number,
): JudgedSet {
  // Whose reading it is must be settled before an age can say what is usual.
  const isDoubted = identityDoubtOf(findings);
  const ageAt = makeAgeTeller(context, false);
  const gender = context.patient?.gender ?? null;
  const weighed = context.set.readings.map((reading) => {
    const age = isDoubted(reading) ? null : ageAt(reading);
    return weigh(reading, findingsOn(reading, findings), age, gender, context.limits);
  });
  const identityDoubted = context.set.readings.every(isDoubted);
  const urgent = findUrgent(context, findings, weighed);
  const { attended } = context.source;
  const resolved = identityDoubted ? NONE_RESOLVED : findResolved(findings);
  return {
    verdict: worst(weighed),
    readings: weighed.map((each) =>
      withStatus(each, statusOf(each, urgent.indexes.includes(each.reading.index), attended)),
    ),
    findings,
    publishEarlier: identityDoubted ? [] : withoutResolved(urgent.earlierIds, resolved),
    resolved,
    edition,
  };
}

/** Kept readings whose hold a finding ends. */
function findResolved(findings: readonly Finding[]): JudgedSet['resolved'] {
  let resolved: { readingId: string; finding: Finding }[] | null = null;
  for (const finding of findings) {
    if (finding.releases === undefined) continue;
    for (const readingId of finding.releases) (resolved ??= []).push({ readingId, finding });
  }
  return resolved ?? NONE_RESOLVED;
}

/** What is released goes out by that. */
function withoutResolved(
  ids: readonly string[],
  resolved: JudgedSet['resolved'],
): readonly string[] {
  if (ids.length === 0 || resolved.length === 0) return ids;
  return ids.filter((id) => !resolved.some(({ readingId }) => readingId === id));
}

function weigh(
  reading: Reading,
  findings: readonly Finding[],
  age: Age | null,
  gender: Gender,
  limits: Limits,
): WeighedReading {
  const verdict = worst(findings);
  if (verdict === 'rejected') {
    // No measurement: there is nothing to interpret.
    return {
      reading,
      verdict,
      findings,
      interpretation: {},
      hold: null,
      critical: false,
      derived: null,
    };
  }
  return {
    reading,
    verdict,
    findings,
    interpretation: interpretReading(reading, age, gender, limits),
    hold: gravestHold(findings),
    critical: isCritical(reading, age, gender, limits),
    derived: deriveValues(reading, findings, limits),
  };
}

/** Written out: spreading is several times dearer, and this is done for every reading. */
function withStatus(
  { reading, verdict, findings, interpretation, hold, critical, derived }: WeighedReading,
  status: ObservationStatus | null,
): JudgedReading {
  return { reading, verdict, findings, interpretation, hold, critical, derived, status };
}

/** Findings that name the reading, or none and so each of the set. */
function findingsOn({ index }: Reading, findings: readonly Finding[]): readonly Finding[] {
  if (findings.length === 0) return NO_FINDINGS;
  return findings.filter(({ readings }) => readings.length === 0 || readings.includes(index));
}

function worst(said: readonly { readonly verdict: Verdict }[]): Verdict {
  let rank = 0;
  for (const { verdict } of said) rank = Math.max(rank, VERDICTS.indexOf(verdict));
  return VERDICTS[rank] ?? 'accepted';
}

/** The kind that ends last: identity, then unit, then value. Holds that were lifted bear none. */
function gravestHold(findings: readonly Finding[]): HoldKind | null {
  let gravest: HoldKind | null = null;
  for (const { hold } of findings) {
    if (hold === undefined) continue;
    if (gravest === null || HOLD_KINDS.indexOf(hold) > HOLD_KINDS.indexOf(gravest)) gravest = hold;
  }
  return gravest;
}

/**
 * What goes out now. A value hold of a critical value, or of one that a critical value contradicts, is
 * published unconfirmed: a false hold of a true crisis does more harm than a false value with a mark of
 * doubt. Suspected units and doubted identities wait.
 */
function statusOf(
  { reading, verdict, hold, critical }: WeighedReading,
  urgent: boolean,
  attended: boolean,
): ObservationStatus | null {
  switch (verdict) {
    case 'rejected':
      return null;
    case 'held':
      return hold === 'value' && (critical || urgent) ? 'preliminary' : null;
    case 'accepted':
    case 'noted':
      if (reading.absent !== null) return 'cancelled';
      return isSettled(reading.report, attended) ? 'final' : 'preliminary';
  }
}
