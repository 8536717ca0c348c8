/** What every Observation of a version has, whether of the reading itself or of what was calculated from it. */
import type { Coding, Extension, Meta, Observation } from 'fhir/r4.js';
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
export function stampOf({ stampMs }: ReadingVersion): string {
  if (stampMs !== told.stampMs) told = { stampMs, text: new Date(stampMs).toISOString() };
  return told.text;
}

export function renderMeta(
  version: ReadingVersion,
  status: ObservationStatus,
  profile: string[],
): Meta {
  const tag = tagsOf(version, status);
  return {
    versionId: String(version.version),
    lastUpdated: stampOf(version),
    profile,
    ...(tag.length === 0 ? {} : { tag }),
  };
}

/** Why a preliminary Observation is no settled fact, and that a late one is no present value. */
function tagsOf(version: ReadingVersion, status: ObservationStatus): Coding[] {
  const { receivedAtMs, takenAt } = version;
  const tags: Coding[] = reasonsOfPreliminary(version, status).map((reason) => TAGS[reason]);
  if (latenessMs(receivedAtMs, takenAt.epochMs) !== null) tags.push(TAGS['late-arrival']);
  return tags;
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
}: ReadingVersion): Pick<Observation, 'subject' | 'encounter'> {
  return {
    subject: {
      reference: `Patient/${patient.id}`,
      type: 'Patient',
      identifier: patient.identifier,
    },
    ...(encounter === null ? {} : { encounter: { type: 'Encounter', identifier: encounter } }),
  };
}
