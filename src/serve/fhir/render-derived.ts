import type { Observation } from 'fhir/r4.js';
import type { ObservationVersion } from '../../store/shown-observations.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { DERIVED_CATALOGUE } from '../../vitals/derived-catalogue.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { DerivedKind, ObservationStatus } from '../../vitals/words.js';
import { describeCircumstances, describeTrust } from './describe-observation.js';
import { NO_LONGER, VITAL_SIGNS_CATEGORY, bodySiteConcept, codeable } from './render-codings.js';
import { renderMeta, renderPosition, renderSubject, stampOf } from './render-frame.js';
import { renderMoment } from './render-moment.js';
import { renderNarrative } from './render-narrative.js';
import { renderDerivedNotes } from './render-notes.js';
import { renderObservation } from './render-observation.js';
import { renderPanel } from './render-panel.js';
import { renderQuantity } from './render-value.js';

const PRESSURE = CATALOGUE['blood-pressure'];
/** R4 and US Core 9.0.0 have no profile of their own for either; what all vital signs must be, they are. */
export const DERIVED_PROFILES = [
  'http://hl7.org/fhir/StructureDefinition/vitalsigns',
  'http://hl7.org/fhir/us/core/StructureDefinition/us-core-vital-signs',
];

/** A published version as what it is shown as. */
export function renderShown(version: ObservationVersion): Observation {
  if (version.shown === 'panel') return renderPanel(version);
  return version.shown === 'reading'
    ? renderObservation(version)
    : renderDerived(version, version.shown, version.observationId);
}

/**
 * A value calculated from a pressure, as an Observation of its own, derived from that of the pressure
 * (R4 §10.1.4.3: what is computed is no component). Nobody measured it: it has no device, no performer
 * and no interpretation. Status, tags and notes of doubt are those of the pressure.
 */
function renderDerived(version: ReadingVersion, kind: DerivedKind, id: string): Observation {
  const value = version.derived?.[kind];
  if (version.status === null || value === undefined) {
    throw new Error('Nothing of this kind is published with the version');
  }
  const status = value === null ? 'entered-in-error' : version.status;
  const { display, codings } = DERIVED_CATALOGUE[kind];
  const notes = renderDerivedNotes(version, value === null ? OUTDATED : HOW[kind](version));
  const bodySite = bodySiteConcept(version);
  return {
    resourceType: 'Observation',
    id,
    meta: renderMeta(version, status, DERIVED_PROFILES),
    text: renderNarrative([
      ...describe(version, status, `${display}: ${valueText(value)}`),
      ...notes.map(({ text }) => text),
    ]),
    ...renderPosition(version),
    status,
    category: [VITAL_SIGNS_CATEGORY],
    code: codeable({ coding: codings, text: display }),
    ...renderSubject(version),
    effectiveDateTime: renderMoment(version.takenAt),
    issued: stampOf(version),
    ...(value === null
      ? { dataAbsentReason: NO_LONGER }
      : { valueQuantity: renderQuantity(PRESSURE, value) }),
    note: notes,
    ...(bodySite === undefined ? {} : { bodySite }),
    ...(value === null ? {} : { method: { text: METHODS[kind](version) } }),
    derivedFrom: [{ reference: `Observation/${version.readingId}`, type: 'Observation' }],
  };
}

const OUTDATED =
  'No longer calculated: the reading that it came from was corrected, and the earlier value is not to be used.';

const METHODS: Readonly<Record<DerivedKind, (version: ReadingVersion) => string>> = {
  'pulse-pressure': () => 'Calculated: systolic minus diastolic pressure',
  'mean-pressure': ({ derived }) =>
    `Calculated: diastolic pressure plus ${derived?.factor ?? ''} of the pulse pressure`,
};

const HOW: Readonly<Record<DerivedKind, (version: ReadingVersion) => string>> = {
  'pulse-pressure': ({ values }) =>
    `Calculated by the gateway, not measured: systolic ${values.systolic ?? ''} minus diastolic ${values.diastolic ?? ''} mmHg.`,
  'mean-pressure': ({ values, derived }) =>
    `Calculated by the gateway, not measured: diastolic ${values.diastolic ?? ''} plus ${derived?.factor ?? ''} of the way to systolic ${values.systolic ?? ''} mmHg. An estimate: the mean inside the artery may be several mmHg away.`,
};

function valueText(value: string | null): string {
  return value === null ? 'no longer calculated' : `${value} ${PRESSURE.unitText}`;
}

function describe(version: ReadingVersion, status: ObservationStatus, value: string): string[] {
  const takenAt = renderMoment(version.takenAt);
  return [
    `${describeTrust(version, status)} ${value}.`,
    `From a blood pressure. ${describeCircumstances(version, takenAt)}.`,
  ];
}
