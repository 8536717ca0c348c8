import fc from 'fast-check';
import type { Observation } from 'fhir/r4.js';
import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderObservation } from '../../../src/serve/fhir/render-observation.js';
import { SIGNAL_DOUBTS } from '../../../src/vitals/device-report.js';
import type { Finding, ReadingVersion } from '../../../src/vitals/shapes.js';
import { resourceFaults } from '../../fhir-validation/resource-faults.js';
import { PRESSURE, sampleVersion } from './sample-version.js';

const finding: Finding = {
  rule: 'blood-pressure-mean-outside-its-range',
  verdict: 'noted',
  readings: [2],
  message: 'The mean pressure of 140 is above the systolic of 128.',
  advice: 'Read the mean again from the monitor.',
  source: 'common practice, no source',
};

function render(change: Partial<ReadingVersion> = {}): Observation {
  return renderObservation(sampleVersion(change));
}

function notesOf(change: Partial<ReadingVersion>): string[] {
  return (render(change).note ?? []).map(({ text }) => text);
}

function componentsOf(observation: Observation): Record<string, unknown> {
  const entries = (observation.component ?? []).map(
    ({ code, valueQuantity, dataAbsentReason }): [string, unknown] => [
      code.coding?.[0]?.code ?? '',
      valueQuantity?.value ?? dataAbsentReason?.coding?.[0]?.code,
    ],
  );
  return Object.fromEntries(entries);
}

describe('renderObservation', () => {
  it('tells who, when, where and how', () => {
    expect(render()).toMatchObject({
      id: '0197b3a0-5c1e-7d40-9a51-5f0c2e7a0003',
      meta: { versionId: '1', lastUpdated: '2026-03-02T06:45:12.345Z' },
      identifier: [
        {
          system: 'urn:ietf:rfc:3986',
          value: 'urn:uuid:7f4df7f4-9c4e-4d0b-8f43-0c2f8a6f2b90#2',
        },
      ],
      status: 'final',
      subject: {
        reference: 'Patient/0197a000-0000-7000-8000-00000000a001',
        identifier: { system: 'urn:example:mrn', value: 'LF-20555' },
      },
      encounter: { type: 'Encounter', identifier: { value: 'V-90117' } },
      effectiveDateTime: '2026-03-02T07:40:00+01:00',
      issued: '2026-03-02T06:45:12.345Z',
      performer: [{ type: 'Practitioner', identifier: { value: 'N-418' } }],
      device: { type: 'Device', identifier: { value: 'OX-12' } },
      method: { coding: [{ system: 'http://snomed.info/sct', code: '264598005' }] },
      bodySite: { coding: [{ code: '7569003' }], text: 'Right finger' },
      extension: [
        {
          url: 'http://hl7.org/fhir/StructureDefinition/observation-bodyPosition',
          valueCodeableConcept: { text: 'Semi-recumbent' },
        },
      ],
      valueQuantity: { value: 95, unit: '%', system: 'http://unitsofmeasure.org', code: '%' },
      interpretation: [{ coding: [{ code: 'N' }] }],
    });
  });

  it('leaves out every element that was not told', () => {
    const bare = render({
      setId: null,
      encounter: null,
      recorder: null,
      device: null,
      method: null,
      site: null,
      side: null,
      position: null,
      interpretation: {},
    });
    expect(Object.keys(bare).sort()).toEqual(
      'category code effectiveDateTime id issued meta resourceType status subject text valueQuantity'.split(
        ' ',
      ),
    );
    expect(resourceFaults(toFhirJson(bare))).toEqual([]);
  });

  it.each<[offsetMinutes: number, ms: number, expected: string]>([
    [0, 0, '2026-03-02T06:40:00Z'],
    [330, 0, '2026-03-02T12:10:00+05:30'],
    [345, 120, '2026-03-02T12:25:00.120+05:45'],
    [-210, 0, '2026-03-02T03:10:00-03:30'],
    [840, 0, '2026-03-02T20:40:00+14:00'],
  ])('keeps the offset of %d minutes in which the time was told', (offsetMinutes, ms, expected) => {
    const epochMs = Date.UTC(2026, 2, 2, 6, 40, 0, ms);
    expect(render({ takenAt: { epochMs, offsetMinutes } }).effectiveDateTime).toBe(expected);
  });

  it('keeps the moment, whatever the offset', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: Date.UTC(1900, 0), max: Date.UTC(2100, 0) }),
        fc.integer({ min: -840, max: 840 }),
        (epochMs, offsetMinutes) => {
          const text = render({ takenAt: { epochMs, offsetMinutes } }).effectiveDateTime ?? '';
          expect(Date.parse(text)).toBe(epochMs);
        },
      ),
    );
  });

  it('marks a recorder whom the sending program named', () => {
    expect(render({ recorderAsserted: true }).performer).toEqual([
      {
        type: 'Practitioner',
        identifier: { system: 'urn:example:staff', value: 'N-418' },
        display: 'N-418 (named by the sending system)',
      },
    ]);
  });

  it('refuses a version that was never published', () => {
    expect(() => render({ status: null })).toThrow('not published');
  });
});

describe('how far a value is to be trusted', () => {
  // FHIR R4 code system observation-status: preliminary is "initial or interim", not a settled fact.
  it.each<[Partial<ReadingVersion>, string | undefined, string]>([
    [{ status: 'preliminary', verdict: 'accepted' }, 'unreviewed', 'UNREVIEWED'],
    [{ status: 'preliminary', verdict: 'noted' }, 'unreviewed', 'UNREVIEWED'],
    [{ status: 'preliminary', verdict: 'held', hold: 'value' }, 'unconfirmed', 'UNCONFIRMED'],
    [{ status: 'final' }, undefined, 'Final.'],
    [{ status: 'corrected' }, undefined, 'Final, corrected.'],
    [{ status: 'amended', verdict: 'held' }, undefined, 'Final, amended.'],
    [{ status: 'entered-in-error', verdict: 'held' }, undefined, 'ENTERED IN ERROR'],
  ])('%j is tagged %s and its narrative opens with %s', (change, tag, opening) => {
    const { meta, text, valueQuantity } = render(change);
    expect(meta?.tag?.map(({ system, code }) => `${system ?? ''}|${code ?? ''}`)).toEqual(
      tag === undefined ? undefined : [`urn:vital-sign-gateway:tag|${tag}`],
    );
    expect(text?.div).toContain(`<p>${opening}`);
    expect(valueQuantity?.value).toBe(95);
  });
});

/**
 * Codes: code system measurement-status of the HL7 Point-of-Care Device guide (2026); what goes out under
 * which status: HL7 Personal Health Device guide, Observation.status.
 */
describe('a signal that its own device doubts', () => {
  const SYSTEM = 'http://terminology.hl7.org/CodeSystem/measurement-status';
  const doubtful = (changes: Partial<ReadingVersion> = {}) =>
    render({
      status: 'preliminary',
      verdict: 'noted',
      ...changes,
      report: { at: 'OBX 4', signal: ['questionable'], ...changes.report },
    });
  const codesOf = ({ interpretation }: Pick<Observation, 'interpretation'>) =>
    interpretation?.map(({ coding }) => [coding?.[0]?.system, coding?.[0]?.code]);

  it('stands in the interpretation beside the code of the value', () => {
    expect(codesOf(doubtful())).toEqual([
      ['http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', 'N'],
      [SYSTEM, 'questionable'],
    ]);
    const all = { report: { at: 'OBX 4', signal: [...SIGNAL_DOUBTS] }, interpretation: {} };
    expect(codesOf(doubtful(all))?.map(([, code]) => code)).toEqual([
      'questionable',
      'calibration-ongoing',
      'early-indication',
    ]);
  });

  it('stands above the parts of a pressure, once', () => {
    const pressure = doubtful(PRESSURE);
    expect(codesOf(pressure)).toEqual([[SYSTEM, 'questionable']]);
    expect(pressure.component?.map(codesOf)).toEqual([
      [['http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', 'N']],
      [['http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', 'N']],
    ]);
  });

  it('is not said of what was not measured', () => {
    const refused = {
      status: 'cancelled',
      absent: 'refused',
      values: {},
      interpretation: {},
    } as const;
    expect(doubtful(refused).interpretation).toBeUndefined();
    expect(doubtful({ ...PRESSURE, ...refused }).interpretation).toBeUndefined();
  });

  it.each<[Partial<ReadingVersion>, string[], string]>([
    [{}, ['unreviewed', 'doubtful-signal'], 'UNREVIEWED: sent by an unattended device. DOUBTFUL'],
    [
      { report: { at: 'OBX 4', reviewed: true, signal: ['early'] } },
      ['doubtful-signal'],
      'DOUBTFUL SIGNAL: ',
    ],
    [{ verdict: 'held', hold: 'value' }, ['unconfirmed', 'doubtful-signal'], 'UNCONFIRMED: '],
    [{ status: 'final' }, [], 'Final.'],
  ])('%j is tagged %j, and the narrative opens with "%s"', (changes, tags, opening) => {
    const { meta, text } = doubtful(changes);
    expect((meta?.tag ?? []).map(({ code }) => code)).toEqual(tags);
    expect(text?.div).toContain(`<p>${opening}`);
  });
});

describe('the time that a device told', () => {
  it('is kept in a note, beside the time of measuring', () => {
    const report = { at: 'OBX 4', deviceTime: '2026-03-02T07:39:23+01:00' };
    expect(notesOf({ report })).toEqual([
      'The clock of the device showed 2026-03-02T07:39:23+01:00.',
    ]);
    expect(render({ report }).effectiveDateTime).toBe('2026-03-02T07:40:00+01:00');
    expect(notesOf({ report: { at: 'OBX 4' } })).toEqual([]);
  });
});

describe('values', () => {
  it('gives a pressure as components with their own interpretation, and no value of its own', () => {
    const observation = render({
      ...PRESSURE,
      values: { systolic: '182.0', diastolic: '76', mean: '111' },
      interpretation: { systolic: 'HH', diastolic: 'N' },
    });
    expect(observation.valueQuantity).toBeUndefined();
    expect(observation.interpretation).toBeUndefined();
    expect(
      observation.component?.map(({ interpretation }) => interpretation?.[0]?.coding?.[0]?.code),
    ).toEqual(['HH', 'N', undefined]);
    expect(toFhirJson(observation)).toContain('"value":182.0,"unit":"mmHg"');
    expect(observation.text?.div).toContain('systolic 182.0 mmHg (critically high), diastolic 76');
  });

  it('says not-performed of the diastolic that palpation cannot give', () => {
    const palpated = render({ ...PRESSURE, method: 'palpation', values: { systolic: '118' } });
    expect(componentsOf(palpated)).toEqual({ '8480-6': 118, '8462-4': 'not-performed' });
  });

  it('withholds a part that a rule found in error, and says so', () => {
    const observation = render({
      ...PRESSURE,
      values: { systolic: '128', diastolic: '76', mean: '140' },
      interpretation: { mean: 'HH' },
      findings: [{ ...finding, partInError: 'mean' }],
    });
    expect(componentsOf(observation)).toEqual({ '8480-6': 128, '8462-4': 76, '8478-0': 'error' });
    expect(observation.component?.[2]?.interpretation).toBeUndefined();
    expect(observation.text?.div).toContain('mean in error');
  });

  // R4 code system data-absent-reason.
  it.each([
    ['not-done', 'not-performed', undefined],
    ['refused', 'asked-declined', undefined],
    ['not-possible', 'not-performed', 'Measurement was not possible'],
  ] as const)('gives the reason for a reading that is %s', (absent, code, text) => {
    const change = { values: {}, interpretation: {}, absent, status: 'cancelled' } as const;
    const reason = render(change).dataAbsentReason;
    expect(reason?.coding?.[0]?.code).toBe(code);
    expect(reason?.text).toBe(text);
    const pressure = render({ ...PRESSURE, ...change });
    expect(pressure.dataAbsentReason).toEqual(reason);
    expect(componentsOf(pressure)).toEqual({ '8480-6': code, '8462-4': code });
  });

  it('gives consciousness as a concept', () => {
    const observation = render({
      vital: 'consciousness',
      method: null,
      site: null,
      side: null,
      values: {},
      interpretation: {},
      code: 'voice',
    });
    // UK Core value set ACVPU (R4 assets, 2025): 300202002 Responds to voice.
    expect(observation.valueCodeableConcept).toEqual({
      coding: [{ system: 'http://snomed.info/sct', code: '300202002' }],
      text: 'Responds to voice',
    });
  });

  it('writes any kept decimal digit for digit', () => {
    fc.assert(
      fc.property(fc.stringMatching(/^(0|[1-9]\d{0,3})(\.\d{1,6})?$/), (text) => {
        expect(toFhirJson(render({ values: { value: text } }))).toContain(
          `"valueQuantity":{"value":${text},"unit"`,
        );
      }),
    );
  });
});

describe('notes', () => {
  it.each<[string, Partial<ReadingVersion>]>([
    ['Entered as 38.30 Cel', { entered: { value: '38.30', unit: 'Cel' } }],
    ['Counted 11 in 30 s', { entered: { count: 11, seconds: 30 } }],
    [
      'Entered as systolic 17.6, mean 12.4 kPa',
      { ...PRESSURE, entered: { systolic: '17.6', mean: '12.4', unit: 'kPa' } },
    ],
    [
      'Measured again by a person. Rhythm irregular. Cuff size: large adult. Arm circumference: 36.5 cm. ' +
        'Arm not at heart level. Cuff inflated to 190 mmHg. Hot drink 25 min before. Cold drink 5 min before',
      {
        context: {
          confirmed: true,
          regular: false,
          cuffSize: 'large-adult',
          armCircumferenceCm: 36.5,
          armAtHeartLevel: false,
          inflatedTo: 190,
          minutesSinceHotDrink: 25,
          minutesSinceColdDrink: 5,
        },
      },
    ],
    [finding.message, { findings: [finding] }],
    ['Patient was talking.', { note: 'Patient was talking.' }],
    // R4 `string`: [ \r\n\t\S]+, in which JavaScript counts the no-break space as space.
    ['Cuff 3 was used.', { note: 'Cuff\u00a03 was\u3000used.' }],
  ])('says: %s', (text, change) => {
    expect(notesOf(change)).toEqual([text]);
  });

  it('says nothing of a confirmation that did not happen, or of an empty remark', () => {
    expect(render({ context: { confirmed: false }, note: ' \n' }).note).toBeUndefined();
  });

  it('tells the words of the gateway from those of the sender', () => {
    const { note } = render({ findings: [finding], note: finding.message });
    expect(note).toEqual([
      { authorString: 'Vital-sign gateway', text: finding.message },
      {
        authorReference: {
          type: 'Practitioner',
          identifier: { system: 'urn:example:staff', value: 'N-418' },
        },
        text: finding.message,
      },
    ]);
  });

  it('stays a sound resource whatever text was sent', () => {
    fc.assert(
      fc.property(
        fc.string({ unit: 'binary', minLength: 1 }).filter((text) => text.trim() !== ''),
        (text) => {
          const json = toFhirJson(
            render({
              note: text,
              findings: [{ ...finding, message: `<b>${text}</b>` }],
              entered: { value: text, unit: text },
            }),
          );
          expect(resourceFaults(json)).toEqual([]);
        },
      ),
      { numRuns: 200 },
    );
  });
});
