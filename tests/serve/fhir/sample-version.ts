import type { PanelVersion, ReadingVersion } from '../../../src/vitals/shapes.js';

/** An invented reading of ward Larkfield: an oximeter's saturation, accepted and final. */
const SAMPLE: ReadingVersion = {
  readingId: '0197b3a0-5c1e-7d40-9a51-5f0c2e7a0003',
  version: 1,
  stampMs: Date.UTC(2026, 2, 2, 6, 45, 12, 345),
  supersededMs: null,
  receivedAtMs: 0,
  submissionId: '0197b3a0-5c1e-7d40-9a51-5f0c2e7a0000',
  setId: '7f4df7f4-9c4e-4d0b-8f43-0c2f8a6f2b90',
  index: 2,
  source: 'larkfield-engine',
  patient: {
    id: '0197a000-0000-7000-8000-00000000a001',
    identifier: { system: 'urn:example:mrn', value: 'LF-20555' },
  },
  encounter: { system: 'urn:example:visit', value: 'V-90117' },
  recorder: { system: 'urn:example:staff', value: 'N-418' },
  recorderAsserted: false,
  device: { system: 'urn:example:device', value: 'OX-12' },
  location: 'larkfield/3',
  vital: 'oxygen-saturation',
  method: 'pulse-oximetry',
  site: 'finger',
  side: 'right',
  position: 'semi-recumbent',
  takenAt: { epochMs: Date.UTC(2026, 2, 2, 6, 40), offsetMinutes: 60 },
  values: { value: '95' },
  code: null,
  absent: null,
  interpretation: { value: 'N' },
  derived: null,
  entered: null,
  context: {},
  note: null,
  findings: [],
  verdict: 'accepted',
  hold: null,
  holdUntilMs: null,
  status: 'final',
  edition: 1,
};

/** A pressure by stethoscope, in place of the saturation. */
export const PRESSURE: Partial<ReadingVersion> = {
  vital: 'blood-pressure',
  method: 'auscultation',
  site: 'upper-arm',
  side: 'left',
  position: 'sitting',
  device: null,
  values: { systolic: '128', diastolic: '76' },
  interpretation: { systolic: 'N', diastolic: 'N' },
};

/** A reading version for a test that cares about `change` and nothing else. */
export function sampleVersion(change: Partial<ReadingVersion> = {}): ReadingVersion {
  return { ...SAMPLE, ...change };
}

/** The panel of the sample's set, likewise. */
export function samplePanel(change: Partial<PanelVersion> = {}): PanelVersion {
  const { version, stampMs, supersededMs, receivedAtMs, setId, source } = SAMPLE;
  const { patient, encounter, recorder, recorderAsserted, takenAt, edition } = SAMPLE;
  return {
    ...{ version, stampMs, supersededMs, receivedAtMs, setId, source },
    ...{ patient, encounter, recorder, recorderAsserted, takenAt, edition },
    panelId: '0197b3a0-5c1e-7d40-9a51-5f0c2e7affff',
    status: 'final',
    members: ['0197b3a0-5c1e-7d40-9a51-5f0c2e7a0001', SAMPLE.readingId],
    ...change,
  };
}
