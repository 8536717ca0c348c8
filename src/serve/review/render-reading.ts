/** Readings as an analyst is shown them: what was sent, what was made of it, and where it stands. */
import { editionName, versionAnswer } from '../../vitals/answers.js';
import type { KeptDecision } from '../../store/review-history.js';
import type { RegisteredName, ReviewReading } from '../../store/review-readings.js';
import type { ReviewState } from '../../store/review-search.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import { renderMoment } from '../fhir/render-moment.js';

type Json = Record<string, unknown>;

export function isoTime(epochMs: number | null): string | null {
  return epochMs === null ? null : new Date(epochMs).toISOString();
}

/** `clear`: accepted or noted, and nobody had to decide about it. */
function stateOf({ version, decided }: ReviewReading): ReviewState | 'clear' {
  if (version.hold !== null) return version.status === null ? 'waiting' : 'out';
  if (decided) return 'decided';
  return version.verdict === 'rejected' ? 'rejected' : 'clear';
}

function nameText(name: RegisteredName | null): string | null {
  if (name === null) return null;
  const parts = [...(name.given ?? []), name.family ?? ''].join(' ').trim();
  return name.text ?? (parts === '' ? null : parts);
}

function renderPatient({ version, registered }: ReviewReading): Json {
  return {
    ...version.patient,
    registered: registered !== null,
    name: nameText(registered?.name ?? null),
    birthDate: registered?.birthDate ?? null,
    gender: registered?.gender ?? null,
  };
}

/** What a version says, whoever's it is: value, circumstances, verdict, publication. */
function renderVersion(version: ReadingVersion): Json {
  const { method, site, side, position, device, note, context } = version;
  return {
    ...versionAnswer(version),
    hold: version.hold,
    status: version.status,
    deadline: isoTime(version.holdUntilMs),
    ...{ method, site, side, position, device, note, context },
    takenAt: renderMoment(version.takenAt),
    findings: version.findings,
    edition: editionName(version.edition),
    changedAt: isoTime(version.stampMs),
  };
}

/** A reading in a list, or at the head of its own page. */
export function renderReading(reading: ReviewReading): Json {
  const { version } = reading;
  return {
    ...renderVersion(version),
    state: stateOf(reading),
    critical: reading.critical,
    patient: renderPatient(reading),
    encounter: version.encounter,
    location: version.location,
    recorder: version.recorder,
    recorderAsserted: version.recorderAsserted,
    source: version.source,
    setId: version.setId,
    submission: version.submissionId,
    receivedAt: isoTime(version.receivedAtMs),
  };
}

/** A reading among those it came with. */
export function renderSibling(reading: ReviewReading): Json {
  return { ...versionAnswer(reading.version), state: stateOf(reading), hold: reading.version.hold };
}

/** One version in the history of a reading. */
export function renderPastVersion(version: ReadingVersion): Json {
  return {
    ...renderVersion(version),
    patient: version.patient,
    supersededAt: isoTime(version.supersededMs),
  };
}

export function renderDecision(decision: KeptDecision): Json {
  const { action, reason, reasonCode, client, person, fromVersion, toVersion } = decision;
  return {
    ...{ action, reason, reasonCode, client, person, fromVersion, toVersion },
    decidedAt: isoTime(decision.decidedMs),
    submission: decision.submissionId,
    newReading: decision.newReadingId,
  };
}
