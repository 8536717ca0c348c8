/** A reading put together: what its Observation says, and where its references lead. */
import type { Observation } from 'fhir/r4.js';
import type { DeviceReport, ReportDoubt, SignalDoubt } from '../../vitals/device-report.js';
import type { DeliveredPatient, Identifier, IncomingReading } from '../../vitals/shapes.js';
import type { Faults } from './fhir-fault.js';
import { IDENTIFIER_RULE, readIdentifier } from './identifiers.js';
import { joinNotes } from './read-notes.js';
import type { ObservationRead } from './read-observation.js';
import { deviceTimeAt } from './read-stamp.js';
import type { ReadingDraft } from './reading-draft.js';
import type { ResolvedReferences } from './resolve-reading.js';
import type { SentEntry } from './sent-entry.js';

/** A reading with what decides which set it belongs to. */
export interface Assembled {
  readonly patient: DeliveredPatient | null;
  readonly encounter: Identifier | null;
  readonly recorder: Identifier | null;
  /** The one part of a pressure that it is; undefined: it is whole. */
  readonly part: ReadingDraft['part'];
  readonly reading: IncomingReading & { readonly index: number; readonly report: DeviceReport };
}

type Read = Extract<ObservationRead, { kind: 'reading' }>;

/** Business identifiers of the Observation. */
export function readIdentifiers(observation: Observation, faults: Faults): readonly Identifier[] {
  return (observation.identifier ?? []).flatMap((one, i) => {
    const identifier = readIdentifier(one);
    if (identifier !== null) return [identifier];
    const path = `identifier[${i}]`;
    faults.refuse(path, 'value', `${path} must be ${IDENTIFIER_RULE}.`);
    return [];
  });
}

/**
 * @param places one a draft, unique in the submission
 * @param identifiers of the Observation: they are those of what it measured, not of what stands beside it
 */
export function assembleReadings(
  entry: SentEntry,
  read: Read,
  resolved: ResolvedReferences,
  identifiers: readonly Identifier[],
  places: readonly number[],
  faults: Faults,
): Assembled[] {
  const { patient, encounter, recorder } = resolved;
  return read.drafts.map((draft, i) => {
    const isMain = i === 0;
    const at = isMain ? entry.at : `${entry.at}, a component`;
    const own = isMain
      ? { identifiers, criteria: entry.criteria }
      : { identifiers: [], criteria: null };
    const report = reportOf(at, read, draft, resolved, own);
    const reading = readingOf(read, draft, resolved, places[i] ?? 0, report, faults);
    return { patient, encounter, recorder, part: draft.part, reading };
  });
}

function readingOf(
  { time }: Read,
  draft: ReadingDraft,
  resolved: ResolvedReferences,
  index: number,
  report: DeviceReport,
  faults: Faults,
): Assembled['reading'] {
  const { vital, method, position, place, value } = draft;
  const { device } = resolved;
  const note = joinNotes([...draft.notes, ...time.notes, ...resolved.notes], faults);
  return {
    index,
    vital,
    ...(method !== undefined && { method }),
    ...place,
    ...(position !== undefined && { position }),
    ...value,
    ...(device !== null && { device: { identifier: device.identifier } }),
    ...(time.takenAt !== undefined && { takenAt: time.takenAt }),
    ...(note !== undefined && { note }),
    report,
  };
}

function reportOf(
  at: string,
  { time, trust }: Read,
  draft: ReadingDraft,
  { stamp, doubts: found }: ResolvedReferences,
  own: {
    readonly identifiers: readonly Identifier[];
    readonly criteria: readonly Identifier[] | null;
  },
): DeviceReport {
  const doubts = new Set<ReportDoubt>([...draft.doubts, ...time.doubts, ...trust.doubts, ...found]);
  if (stamp?.kind === 'fault') doubts.add('clock-unset');
  const deviceTime =
    stamp?.kind === 'offset' && time.takenAt !== undefined
      ? deviceTimeAt(time.takenAt, stamp.offsetMs)
      : undefined;
  return {
    at,
    ...(doubts.size > 0 && { doubts: [...doubts] }),
    ...(draft.asSent !== undefined && { asSent: draft.asSent }),
    ...(trust.reviewed !== undefined && { reviewed: trust.reviewed }),
    ...(trust.signal.length > 0 && { signal: trust.signal }),
    ...(deviceTime !== undefined && { deviceTime }),
    ...(own.identifiers.length > 0 && { identifiers: own.identifiers }),
    ...(own.criteria !== null && { unlessKept: own.criteria }),
  };
}

/** The same with a further doubt about the signal. */
export function withSignal(one: Assembled, doubt: SignalDoubt): Assembled {
  const { reading } = one;
  const signal = [...new Set([...(reading.report.signal ?? []), doubt])];
  return { ...one, reading: { ...reading, report: { ...reading.report, signal } } };
}
