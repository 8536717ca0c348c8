import type { Observation } from 'fhir/r4.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { methodConcept } from '../../vitals/codes.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import { describeObservation } from './describe-observation.js';
import { VITAL_SIGNS_CATEGORY, bodySiteConcept, codeConcept, codeable } from './render-codings.js';
import {
  renderMeta,
  renderPerformer,
  renderPosition,
  renderSubject,
  stampOf,
} from './render-frame.js';
import { renderMoment } from './render-moment.js';
import { renderNarrative } from './render-narrative.js';
import { renderNotes } from './render-notes.js';
import { renderValue } from './render-value.js';

export const URI_SYSTEM = 'urn:ietf:rfc:3986';

/**
 * A published version of a reading as FHIR R4 Observation: conforms to the R4 vital-signs profile of
 * its code, and to US Core 9.0.0 where that has one. A pure function of the version, without clock or
 * address of the server, so that its bytes are the same for ever.
 *
 * @throws Error when the version was never published: a held or rejected reading has no Observation.
 */
export function renderObservation(version: ReadingVersion): Observation {
  const { status, device, method } = version;
  if (status === null) throw new Error('A reading that is not published has no Observation');
  const notes = renderNotes(version);
  const bodySite = bodySiteConcept(version);
  const takenAt = renderMoment(version.takenAt);
  const facts = describeObservation(version, status, takenAt);
  const { profile, usCoreProfile } = CATALOGUE[version.vital];
  return {
    resourceType: 'Observation',
    id: version.readingId,
    meta: renderMeta(
      version,
      status,
      usCoreProfile === null ? [profile] : [profile, usCoreProfile],
    ),
    text: renderNarrative([...facts, ...notes.map(({ text }) => text)]),
    ...renderPosition(version),
    ...renderIdentifiers(version),
    status,
    category: [VITAL_SIGNS_CATEGORY],
    code: codeConcept(version),
    ...renderSubject(version),
    effectiveDateTime: takenAt,
    issued: stampOf(version),
    ...renderPerformer(version),
    ...renderValue(version),
    ...(notes.length === 0 ? {} : { note: notes }),
    ...(bodySite === undefined ? {} : { bodySite }),
    ...(method === null ? {} : { method: codeable(methodConcept(method)) }),
    ...(device === null ? {} : { device: { type: 'Device', identifier: device } }),
  };
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

/** The set's own id as a URI, and the place of the reading in it; null: the set itself. */
export function setIdentifier(
  setId: string,
  index: number | null,
): { system: string; value: string } {
  const place = index === null ? '' : `#${String(index)}`;
  return { system: URI_SYSTEM, value: `urn:uuid:${setId}${place}` };
}
