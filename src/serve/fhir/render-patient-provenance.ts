import type { Provenance } from 'fhir/r4.js';
import type { PatientOrigin } from '../../store/patient-origins.js';
import { GATEWAY, programReference, sourceReference } from './agents.js';
import {
  agent,
  deciders,
  mergeEntities,
  renderProvenance,
  revisionOf,
  sourceEntity,
  versionReference,
} from './provenance-frame.js';
import type { Told } from './provenance-frame.js';

/** The Provenance of a version of a registered patient: who registered it so, or which merge linked it. */
export function renderPatientProvenance(origin: PatientOrigin): Provenance {
  const { id, version, stampMs, submission, merge } = origin;
  return renderProvenance({
    ...{ type: 'Patient', id, version, stampMs, edition: null },
    activity: version === 1 ? 'CREATE' : 'UPDATE',
    entities: [
      ...(submission === null ? [] : [sourceEntity(submission, 'As it arrived')]),
      ...(version === 1 ? [] : [revisionOf(versionReference('Patient', id, version - 1))]),
      ...(merge === null ? [] : mergeEntities(merge)),
    ],
    ...causeOf(origin),
  });
}

function causeOf({ program, source, merge }: PatientOrigin): Pick<Told, 'by' | 'reason' | 'deed'> {
  if (merge !== null) {
    const other = `Patient/${merge.otherPatientId}`;
    return {
      by: deciders(
        'author',
        merge,
        merge.source === null ? GATEWAY : sourceReference(merge.source),
      ),
      reason: { text: merge.reason },
      deed: merge.undone ? `no longer linked to ${other}` : `linked to ${other} by a merge`,
    };
  }
  if (program === null && source !== null) {
    const by = [agent('author', sourceReference(source))];
    return { by, reason: null, deed: `registered by a message of ${source.name}` };
  }
  if (program === null) return { by: [], reason: null, deed: 'registered' };
  return {
    by: [agent('author', programReference(program))],
    reason: null,
    deed: `registered by ${program.name}`,
  };
}
