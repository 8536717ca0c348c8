/** A round on the invented ward: every form of value, nothing wrong. Fresh at each call. */
export function sampleSet(): {
  [member: string]: unknown;
  readings: Record<string, unknown>[];
  patient: Record<string, unknown>;
} {
  return {
    setId: '6f1d3c52-90a4-4c7e-8f0b-2a51c9d7e318',
    patient: {
      identifier: { system: 'urn:example:mrn', value: 'LF-30112' },
      birthDate: '1944-02-29',
      familyName: 'Ångström-O’Neill',
    },
    encounter: { identifier: { system: 'urn:example:visit', value: 'V-40017' } },
    takenAt: '2026-04-19T21:40:00+02:00',
    recorder: { identifier: { system: 'urn:example:staff', value: 'N-207' } },
    location: 'larkfield/4',
    position: 'semi-recumbent',
    readings: [
      { vital: 'respiratory-rate', method: 'counted', count: 8, seconds: 30 },
      {
        vital: 'pulse-rate',
        method: 'palpation',
        site: 'radial-artery',
        side: 'right',
        count: 22,
        seconds: 15,
        regular: false,
      },
      {
        vital: 'oxygen-saturation',
        method: 'pulse-oximetry',
        site: 'ear',
        value: '94.0',
        unit: '%',
        device: { identifier: { system: 'urn:example:device', value: 'OX-3' } },
        takenAt: '2026-04-19T21:42:30.250+02:00',
      },
      {
        vital: 'blood-pressure',
        method: 'oscillometry',
        site: 'upper-arm',
        side: 'left',
        position: 'supine',
        systolic: 16.4,
        diastolic: '10.0',
        mean: 12.1,
        unit: 'kPa',
        cuffSize: 'large-adult',
        armCircumferenceCm: 37.5,
        armAtHeartLevel: true,
        inflatedTo: 180,
      },
      {
        vital: 'body-temperature',
        site: 'oral',
        value: 101.3,
        unit: '[degF]',
        minutesSinceHotDrink: 40,
        minutesSinceColdDrink: 0,
        confirmed: true,
        note: 'Drank before.\nAsked to wait.',
      },
      { vital: 'body-weight', absent: 'not-possible' },
      { vital: 'consciousness', code: 'alert' },
    ],
  };
}

/** The same with one reading alone. */
export function setWith(reading: unknown): Record<string, unknown> {
  return { ...sampleSet(), readings: [reading] };
}
