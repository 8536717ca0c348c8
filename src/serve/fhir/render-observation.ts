import type { Coding, Meta, Observation, Reference } from 'fhir/r4.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { methodConcept, positionConcept } from '../../vitals/codes.js';
import { latenessMs } from '../../vitals/late-arrival.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { ObservationStatus } from '../../vitals/words.js';
import { describeObservation, reasonsOfPreliminary } from './describe-observation.js';
import {
  TAGS,
  VITAL_SIGNS_CATEGORY,
  bodySiteConcept,
  codeConcept,
  codeable,
} from './render-codings.js';
import { renderMoment } from './render-moment.js';
import { renderNarrative } from './render-narrative.js';
import { renderNotes } from './render-notes.js';
import { renderValue } from './render-value.js';

/** FHIR R4 core extension; ended with FHIR 5.0, and still the way of R4. */
const BODY_POSITION = 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition';
export const URI_SYSTEM = 'urn:ietf:rfc:3986';

/**
 * A published version of a reading as FHIR R4 Observation: conforms to the R4 vital-signs profile of
 * its code, and to US Core 9.0.0 where that has one. A pure function of the version, without clock or
 * address of the server, so that its bytes are the same for ever.
 *
 * @throws Error when the version was never published: a held or rejected reading has no Observation.
 */
export function renderObservation(version: ReadingVersion): Observation {
  const { status, recorder, device, encounter, method, position } = version;
  if (status === null) throw new Error('A reading that is not published has no Observation');
  const notes = renderNotes(version);
  const bodySite = bodySiteConcept(version);
  const takenAt = renderMoment(version.takenAt);
  const facts = describeObservation(version, status, takenAt);
  const lastUpdated = new Date(version.stampMs).toISOString();
  return {
    resourceType: 'Observation',
    id: version.readingId,
    meta: renderMeta(version, status, lastUpdated),
    text: renderNarrative([...facts, ...notes.map(({ text }) => text)]),
    ...(position === null
      ? {}
      : {
          extension: [
            { url: BODY_POSITION, valueCodeableConcept: codeable(positionConcept(position)) },
          ],
        }),
    ...renderIdentifiers(version),
    status,
    category: [VITAL_SIGNS_CATEGORY],
    code: codeConcept(version),
    subject: {
      reference: `Patient/${version.patient.id}`,
      type: 'Patient',
      identifier: version.patient.identifier,
    },
    ...(encounter === null ? {} : { encounter: { type: 'Encounter', identifier: encounter } }),
    effectiveDateTime: takenAt,
    issued: lastUpdated,
    ...(recorder === null ? {} : { performer: [renderPerformer(version, recorder)] }),
    ...renderValue(version),
    ...(notes.length === 0 ? {} : { note: notes }),
    ...(bodySite === undefined ? {} : { bodySite }),
    ...(method === null ? {} : { method: codeable(methodConcept(method)) }),
    ...(device === null ? {} : { device: { type: 'Device', identifier: device } }),
  };
}

function renderMeta(version: ReadingVersion, status: ObservationStatus, lastUpdated: string): Meta {
  const { profile, usCoreProfile } = CATALOGUE[version.vital];
  const tag = tagsOf(version, status);
  return {
    versionId: String(version.version),
    lastUpdated,
    profile: usCoreProfile === null ? [profile] : [profile, usCoreProfile],
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

/** Its place in its set, and what its sender called it. */
function renderIdentifiers({
  setId,
  index,
  report,
}: ReadingVersion): Pick<Observation, 'identifier'> {
  const identifier = [
    ...(setId === null ? [] : [setIdentifier(setId, index)]),
    ...(report?.identifiers ?? []).map(({ system, value }) => ({ system, value })),
  ];
  return identifier.length === 0 ? {} : { identifier };
}

/** The set's own id and the place of the reading in it, as a URI. */
function setIdentifier(setId: string, index: number): { system: string; value: string } {
  return { system: URI_SYSTEM, value: `urn:uuid:${setId}#${String(index)}` };
}

function renderPerformer(
  { recorderAsserted }: ReadingVersion,
  recorder: { readonly system: string; readonly value: string },
): Reference {
  return {
    type: 'Practitioner',
    identifier: recorder,
    ...(recorderAsserted ? { display: `${recorder.value} (named by the sending system)` } : {}),
  };
}
