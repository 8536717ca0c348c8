/** A clean set of seven readings; the numbers vary a little, so that no two sets are alike. */

/** The identifier of the nth patient of the bench. */
export function patientNumber(n: number): string {
  return `B-${String(n).padStart(5, '0')}`;
}

/** The JSON of one set, about 1.2 kB. */
export function exampleBody(setId: string, patient: number, takenAt: Date): string {
  const vary = (base: number, by: number): number => base + Math.floor(Math.random() * by);
  const pulse = vary(30, 8);
  // Read to the nearest 2 mmHg, as from a scale: an odd last digit would be noted.
  const systolic = 2 * vary(56, 10);
  const diastolic = 2 * vary(33, 7);
  return JSON.stringify({
    setId,
    patient: {
      identifier: { system: 'urn:example:mrn', value: patientNumber(patient) },
      birthDate: '1961-04-17',
    },
    encounter: { identifier: { system: 'urn:example:visit', value: `V-${patient}` } },
    takenAt: takenAt.toISOString().replace('Z', '+00:00'),
    recorder: { identifier: { system: 'urn:example:staff', value: 'N-204' } },
    location: `larkfield/${patient % 40}`,
    position: 'sitting',
    readings: [
      { vital: 'respiratory-rate', method: 'counted', count: vary(7, 3), seconds: 30 },
      {
        vital: 'pulse-rate',
        method: 'palpation',
        site: 'radial-artery',
        side: 'left',
        count: pulse,
        seconds: 30,
        regular: true,
      },
      {
        vital: 'oxygen-saturation',
        method: 'pulse-oximetry',
        site: 'finger',
        value: vary(96, 4),
        unit: '%',
        device: { identifier: { system: 'urn:example:device', value: 'OX-3' } },
      },
      { vital: 'pulse-rate', method: 'pulse-oximetry', value: pulse * 2 + 1, unit: '/min' },
      {
        vital: 'blood-pressure',
        method: 'auscultation',
        site: 'upper-arm',
        side: 'left',
        systolic,
        diastolic,
        unit: 'mm[Hg]',
        cuffSize: 'adult',
        armCircumferenceCm: 30,
      },
      {
        vital: 'blood-pressure',
        method: 'oscillometry',
        site: 'upper-arm',
        side: 'left',
        systolic: systolic + 3,
        diastolic: diastolic - 2,
        mean: Math.round((systolic + 2 * diastolic) / 3),
        unit: 'mm[Hg]',
      },
      { vital: 'body-temperature', site: 'oral', value: vary(975, 12) / 10, unit: '[degF]' },
    ],
  });
}
