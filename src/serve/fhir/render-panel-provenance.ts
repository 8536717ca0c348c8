import type { Provenance } from 'fhir/r4.js';
import type { PanelOrigin } from '../../store/panel-origins.js';
import {
  derivedFrom,
  renderProvenance,
  revisionOf,
  sourceEntity,
  versionReference,
} from './provenance-frame.js';

/**
 * The Provenance of a version of a panel: the gateway put it together from its members, each of which has a
 * Provenance of its own that tells who entered or changed it. A pure function of what is kept.
 */
export function renderPanelProvenance({ version: panel, submission }: PanelOrigin): Provenance {
  const { panelId: id, version, stampMs, edition, status, members } = panel;
  const isNew = version === 1;
  const isInError = status === 'entered-in-error';
  return renderProvenance({
    ...{ type: 'Observation', id, version, stampMs, edition, by: [], reason: null },
    activity: isInError ? 'NULLIFY' : isNew ? 'CREATE' : 'UPDATE',
    entities: [
      ...(submission === null ? [] : [sourceEntity(submission, 'The set, as it arrived')]),
      ...(isNew ? [] : [revisionOf(versionReference('Observation', id, version - 1))]),
      ...members.map((member) =>
        derivedFrom({ reference: `Observation/${member}`, type: 'Observation' }),
      ),
    ],
    deed: isInError
      ? 'fewer than two of its members still hold'
      : `put together by the gateway from ${members.length} readings of a set`,
  });
}
