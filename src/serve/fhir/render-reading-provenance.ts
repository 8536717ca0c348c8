import type { Provenance, ProvenanceEntity } from 'fhir/r4.js';
import type { CausingDecision, ReadingOrigin } from '../../store/reading-origins.js';
import { statusOf } from '../../store/shown-observations.js';
import type { ShownReading } from '../../store/shown-observations.js';
import { personReference, programReference, sourceReference } from './agents.js';
import {
  agent,
  deciders,
  derivedFrom,
  mergeEntities,
  renderProvenance,
  revisionOf,
  sourceEntity,
  versionReference,
} from './provenance-frame.js';
import type { Told } from './provenance-frame.js';

const REASON_CODES = 'urn:vital-sign-gateway:reason-code';

/**
 * The Provenance of a published version of a reading: who entered it, by which device and program, from
 * which bytes; or who changed it, and why. Of a value that was calculated from it: from which version of
 * the reading. A pure function of what is kept.
 */
export function renderReadingProvenance(origin: ReadingOrigin): Provenance {
  const { version, previous } = origin;
  const { observationId: id, stampMs, edition, shown } = version;
  const changed = previous === null ? 'CREATE' : 'UPDATE';
  return renderProvenance({
    ...{ type: 'Observation', id, version: version.version, stampMs, edition },
    activity: isInError(version) ? 'NULLIFY' : changed,
    entities: shown === 'reading' ? entitiesOf(origin) : sourcesOf(origin),
    ...(shown === 'reading' ? causeOf(origin) : calculation(origin)),
  });
}

function isInError(version: ShownReading): boolean {
  return statusOf(version) === 'entered-in-error';
}

function revised({ version, previous }: ReadingOrigin): ProvenanceEntity[] {
  if (previous === null) return [];
  return [revisionOf(versionReference('Observation', version.observationId, previous))];
}

function entitiesOf(origin: ReadingOrigin): ProvenanceEntity[] {
  const { submission, decision, replaces, merge } = origin;
  const entities: ProvenanceEntity[] = [];
  if (submission !== null) entities.push(sourceEntity(submission, 'As it arrived'));
  const decided = decision?.kept ?? null;
  // Published anew under another patient, it came with the decision itself.
  if (decided !== null && decided.submissionId !== submission?.submissionId) {
    entities.push(sourceEntity(decided, 'The decision, as it arrived'));
  }
  entities.push(...revised(origin));
  if (replaces !== null) {
    const { readingId, version: number } = replaces;
    entities.push(derivedFrom(versionReference('Observation', readingId, number)));
  }
  return [...entities, ...(merge === null ? [] : mergeEntities(merge))];
}

/** What a calculated value comes from: the same version of its reading. */
function sourcesOf(origin: ReadingOrigin): ProvenanceEntity[] {
  const { readingId, version } = origin.version;
  const source = derivedFrom(versionReference('Observation', readingId, version));
  return [source, ...revised(origin)];
}

/** Whoever changed the reading changed what is calculated from it. */
function calculation(origin: ReadingOrigin): CauseTold {
  const { version, decision, merge } = origin;
  const { by, reason } =
    decision === null && merge === null ? { by: [], reason: null } : causeOf(origin);
  const { readingId, version: number } = version;
  const words = isInError(version) ? 'no longer holds since' : 'calculated from';
  return { by, reason, deed: `${words} version ${number} of Observation/${readingId}` };
}

type CauseTold = Pick<Told, 'by' | 'reason' | 'deed' | 'occurredMs'>;

function causeOf(origin: ReadingOrigin): CauseTold {
  const { decision, merge, version, source } = origin;
  if (decision !== null) {
    const part = decision.action === 'release' ? 'verifier' : 'author';
    const name = decision.person?.value ?? decision.program?.name ?? source.name;
    return {
      by: deciders(part, decision, sourceReference(source)),
      reason: decisionReason(decision),
      deed: `${DECISION_WORDS[decision.action]} by ${name}`,
    };
  }
  if (merge !== null) {
    const name = merge.person?.value ?? merge.program?.name ?? merge.source?.name ?? source.name;
    const words = merge.undone
      ? 'moved when a merge was undone'
      : 'moved when patients were merged';
    return {
      by: deciders('author', merge, sourceReference(merge.source ?? source)),
      reason: { text: merge.reason },
      deed: `${words} by ${name}`,
    };
  }
  return version.version === 1 ? entry(origin) : ownDoing(origin);
}

const DECISION_WORDS: Readonly<Record<CausingDecision['action'], string>> = {
  release: 'released',
  correct: 'corrected',
  reject: 'rejected',
  withdraw: 'withdrawn',
  assign: 'assigned to its patient',
};

function decisionReason({ reason, reasonCode }: CausingDecision): Told['reason'] {
  return { coding: [{ system: REASON_CODES, code: reasonCode }], text: reason };
}

/** As it was sent: who took it, by what, and which program brought it. */
function entry({ version, source, sender, readLater }: ReadingOrigin): CauseTold {
  const { recorder, recorderAsserted, device, receivedAtMs } = version;
  const from = sourceReference(source);
  const name =
    recorder !== null && recorderAsserted
      ? `${recorder.value} (named by the sending system)`
      : undefined;
  const sensor = device === null ? null : { type: 'Device', identifier: device };
  return {
    by: [
      recorder === null
        ? agent('author', from)
        : agent('author', personReference(recorder, name), from),
      ...(sensor === null ? [] : [agent('performer', sensor, from)]),
      ...(sender === null ? [] : [agent('composer', programReference(sender), from)]),
    ],
    reason: readLater ? { text: READ_AGAIN } : null,
    occurredMs: receivedAtMs,
    deed: `entered by ${name ?? recorder?.value ?? source.name}`,
  };
}

const READ_AGAIN = 'The message was read again, by a mapping that was put in force after it came.';

/** What the gateway did by itself, in the words of the finding that made it do so. */
function ownDoing({ version, before }: ReadingOrigin): CauseTold {
  const { hold, findings } = version;
  if (before?.hold === 'identity') {
    const text = 'The patient’s identity was settled, and the reading was judged again.';
    return { by: [], reason: { text }, deed: 'judged again by the gateway' };
  }
  if (before?.verdict === 'rejected') {
    return { by: [], reason: { text: READ_AGAIN }, deed: 'judged again by the gateway' };
  }
  const finding = findings.slice(before?.findings ?? 0).at(-1);
  const text = finding?.message ?? 'Nobody had decided by the deadline of the hold.';
  const words = hold === null ? 'released' : 'published although it is held,';
  return { by: [], reason: { text }, deed: `${words} by the gateway` };
}
