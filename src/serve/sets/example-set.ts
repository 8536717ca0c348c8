/**
 * One set worked through: the README explains its answer, `npm run example` sends it, and the published
 * document shows it. Ward, people and figures are invented; the patient is one of the demo ward.
 */
export const EXAMPLE_SET = {
  setId: '5d1f0c52-3a5e-4e0b-9f44-6f0a5f0b8c21',
  patient: {
    identifier: { system: 'urn:example:mrn', value: 'LF-20417' },
    birthDate: '1958-11-02',
  },
  encounter: { identifier: { system: 'urn:example:visit', value: 'V-88123' } },
  takenAt: '2026-03-01T08:15:00+01:00',
  recorder: { identifier: { system: 'urn:example:staff', value: 'N-311' } },
  location: 'larkfield/12',
  position: 'sitting',
  readings: [
    { vital: 'respiratory-rate', method: 'counted', count: 8, seconds: 30 },
    {
      vital: 'pulse-rate',
      method: 'palpation',
      site: 'radial-artery',
      side: 'left',
      count: 41,
      seconds: 30,
      regular: true,
    },
    {
      vital: 'oxygen-saturation',
      method: 'pulse-oximetry',
      site: 'finger',
      value: 97,
      unit: '%',
      device: { identifier: { system: 'urn:example:device', value: 'OX-7' } },
    },
    {
      vital: 'pulse-rate',
      method: 'pulse-oximetry',
      site: 'finger',
      value: 95,
      unit: '/min',
      device: { identifier: { system: 'urn:example:device', value: 'OX-7' } },
    },
    {
      vital: 'blood-pressure',
      method: 'auscultation',
      site: 'upper-arm',
      side: 'left',
      systolic: 118,
      diastolic: 76,
      unit: 'mm[Hg]',
      cuffSize: 'adult',
    },
    {
      vital: 'blood-pressure',
      method: 'oscillometry',
      site: 'upper-arm',
      side: 'left',
      systolic: 148,
      diastolic: 81,
      mean: 103,
      unit: 'mm[Hg]',
      cuffSize: 'adult',
      device: { identifier: { system: 'urn:example:device', value: 'BP-3' } },
    },
    {
      vital: 'body-temperature',
      method: 'thermometry',
      site: 'oral',
      value: 100.9,
      unit: '[degF]',
      note: 'Says she feels cold.',
    },
  ],
} as const;
