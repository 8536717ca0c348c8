/** What every Observation has, whether of a reading, of what was calculated from it, or of a panel. */
import type { Coding, Extension, Meta, Observation, Reference } from 'fhir/r4.js';
import { positionConcept } from '../../vitals/codes.js';
import { latenessMs } from '../../vitals/late-arrival.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { ObservationStatus } from '../../vitals/words.js';
import { reasonsOfPreliminary } from './describe-observation.js';
import { TAGS, codeable } from './render-codings.js';

/** FHIR R4 core extension; ended with FHIR 5.0, and still the way of R4. */
const BODY_POSITION = 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition';

/** The last one told: it stands twice in an Observation, and in all of one commit. */
let told = { stampMs: 0, text: new Date(0).toISOString() };

/** The stamp as a FHIR instant. */
export function stampOf({ stampMs }: Pick<ReadingVersion, 'stampMs'>): string {
  if (stampMs !== told.stampMs) told = { stampMs, text: new Date(stampMs).toISOString() };
  return told.text;
}

/** Tags say why a preliminary Observation is no settled fact, and that a late one is no present value. */
export function renderMeta(
  version: ReadingVersion,
  status: ObservationStatus,
  profile: string[],
): Meta {
  const doubts = reasonsOfPreliminary(version, status).map((reason) => TAGS[reason]);
  return metaOf(version, profile, doubts);
}

/** @param doubts tags of what is preliminary */
export function metaOf(
  version: Pick<ReadingVersion, 'version' | 'stampMs' | 'receivedAtMs' | 'takenAt'>,
  profile: string[],
  doubts: readonly Coding[],
): Meta {
  const { receivedAtMs, takenAt } = version;
  const isLate = latenessMs(receivedAtMs, takenAt.epochMs) !== null;
  const tag = [...doubts, ...(isLate ? [TAGS['late-arrival']] : [])];
  return {
    versionId: String(version.version),
    lastUpdated: stampOf(version),
    profile,
    ...(tag.length === 0 ? {} : { tag }),
  };
}

/** The position of the patient, where it was told. */
export function renderPosition({ position }: ReadingVersion): { extension?: Extension[] } {
  if (position === null) return {};
  const valueCodeableConcept = codeable(positionConcept(position));
  return { extension: [{ url: BODY_POSITION, valueCodeableConcept }] };
}

/** Who it is about, and in which visit. */
export function renderSubject({
  patient,
  encounter,
}: Pick<ReadingVersion, 'patient' | 'encounter'>): Pick<Observation, 'subject' | 'encounter'> {
  return {
    subject: {
      reference: `Patient/${patient.id}`,
      type: 'Patient',
      identifier: patient.identifier,
    },
    ...(encounter === null ? {} : { encounter: { type: 'Encounter', identifier: encounter } }),
  };
}

/** Who took it, where that was told. */
export function renderPerformer({
  recorder,
  recorderAsserted,
}: Pick<ReadingVersion, 'recorder' | 'recorderAsserted'>): { performer?: Reference[] } {
  if (recorder === null) return {};
  const display = recorderAsserted ? `${recorder.value} (named by the sending system)` : undefined;
  const performer = { type: 'Practitioner', identifier: recorder };
  return { performer: [{ ...performer, ...(display === undefined ? {} : { display }) }] };
}
