import type { Observation } from 'fhir/r4.js';
import type { PanelVersion } from '../../vitals/shapes.js';
import { PANEL_CODING } from '../../vitals/panel.js';
import type { ObservationStatus } from '../../vitals/words.js';
import { STATUS_WORDS } from './describe-observation.js';
import { TAGS, VITAL_SIGNS_CATEGORY, codeable } from './render-codings.js';
import { metaOf, renderPerformer, renderSubject, stampOf } from './render-frame.js';
import { renderMoment } from './render-moment.js';
import { renderNarrative } from './render-narrative.js';
import { describeLateness, gatewayNote } from './render-notes.js';
import { setIdentifier } from './render-observation.js';

/** R4 has a profile for panels; what US Core 9.0.0 asks of all vital signs they are, too. */
export const PANEL_PROFILES = [
  'http://hl7.org/fhir/StructureDefinition/vitalspanel',
  'http://hl7.org/fhir/us/core/StructureDefinition/us-core-vital-signs',
];

const CODE = codeable({ coding: [PANEL_CODING], text: 'Vital signs panel' });

/**
 * A version of a panel as FHIR R4 Observation (profile vitalspanel): no value, only members, which are named
 * without a version: whoever follows a reference finds the member as it stands then.
 */
export function renderPanel(version: PanelVersion): Observation {
  const { panelId, setId, status, members } = version;
  const takenAt = renderMoment(version.takenAt);
  const notes = [...NOTES[status], ...describeLateness(version)];
  return {
    resourceType: 'Observation',
    id: panelId,
    meta: metaOf(
      version,
      PANEL_PROFILES,
      status === 'preliminary' ? [TAGS['unsettled-members']] : [],
    ),
    text: renderNarrative([...describe(version, takenAt), ...notes]),
    ...(setId === null ? {} : { identifier: [setIdentifier(setId, null)] }),
    status,
    category: [VITAL_SIGNS_CATEGORY],
    code: CODE,
    ...renderSubject(version),
    effectiveDateTime: takenAt,
    issued: stampOf(version),
    ...renderPerformer(version),
    ...(notes.length === 0 ? {} : { note: notes.map(gatewayNote) }),
    hasMember: members.map((id) => ({ reference: `Observation/${id}`, type: 'Observation' })),
  };
}

const NONE: readonly string[] = [];

const NOTES: Readonly<Record<ObservationStatus, readonly string[]>> = {
  ...{ final: NONE, amended: NONE, corrected: NONE, cancelled: NONE },
  preliminary: ['Preliminary because a member is: the member says how far it is to be trusted.'],
  'entered-in-error': ['Fewer than two of its members still hold. Named are those that it had.'],
};

function describe({ patient, recorder, members, status }: PanelVersion, takenAt: string): string[] {
  const by = recorder === null ? '' : `; recorded by: ${recorder.value}`;
  return [
    `${STATUS_WORDS[status]} Vital signs panel: ${String(members.length)} members, in which the values stand.`,
    `Patient ${patient.identifier.value}; taken ${takenAt}${by}.`,
  ];
}
