/** What a search brings along of how its matches came to be (`_revinclude=Provenance:target`). */
import type { Provenance } from 'fhir/r4.js';
import { findPatientOrigins } from '../../store/patient-origins.js';
import type { KeptPatient } from '../../store/find-patients.js';
import type { ProvenancePage, ProvenanceTarget } from '../../store/provenance-search.js';
import { findPanelOrigins } from '../../store/panel-origins.js';
import { findReadingOrigins } from '../../store/reading-origins.js';
import type { ObservationVersion } from '../../store/shown-observations.js';
import type { Brought, SearchInclude } from './includes.js';
import { renderPanelProvenance } from './render-panel-provenance.js';
import { renderPatientProvenance } from './render-patient-provenance.js';
import { renderReadingProvenance } from './render-reading-provenance.js';

/** Of all versions up to a stamp. */
function pageOf(targets: readonly ProvenanceTarget[], asOfMs: number): ProvenancePage {
  const ranges = [{ fromMs: null, toMs: asOfMs + 1 }];
  return {
    conditions: [
      { on: 'target', targets },
      { on: 'recorded', ranges },
    ],
    ...{ descending: false, after: null, limit: null },
  };
}

const NAMED = { by: '_revinclude', name: 'Provenance:target', type: 'Provenance' } as const;

export const OBSERVATION_PROVENANCE: SearchInclude<ObservationVersion> = {
  ...NAMED,
  to: 'Observation',
  async load({ pool }, rows, asOfMs) {
    const targets = rows.map(({ observationId: id }): ProvenanceTarget => {
      return { type: 'Observation', id, version: null };
    });
    // Each is asked by itself whether its version may be seen.
    const page = { ...pageOf(targets, asOfMs), visible: [] };
    const readings = await findReadingOrigins(pool, page);
    const panels = await findPanelOrigins(pool, page);
    const brought = (resource: Provenance, version: ObservationVersion): Brought => ({
      resource,
      shown: { type: 'Provenance', target: { type: 'Observation', version } },
    });
    return [
      ...readings.map((origin) => brought(renderReadingProvenance(origin), origin.version)),
      ...panels.map((origin) => brought(renderPanelProvenance(origin), origin.version)),
    ];
  },
};

export const PATIENT_PROVENANCE: SearchInclude<KeptPatient> = {
  ...NAMED,
  to: 'Patient',
  async load({ pool }, rows, asOfMs) {
    const targets = rows.map(({ id }): ProvenanceTarget => {
      return { type: 'Patient', id, version: null };
    });
    const origins = await findPatientOrigins(pool, pageOf(targets, asOfMs));
    return origins.map((origin) => ({
      resource: renderPatientProvenance(origin),
      shown: { type: 'Provenance', target: { type: 'Patient' } },
    }));
  },
};
