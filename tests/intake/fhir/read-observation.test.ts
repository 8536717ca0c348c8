import {
  ABSENT,
  LOINC,
  MDC,
  SNOMED,
  concept,
  pressure,
  quantity,
  saturation,
} from './observation-of.js';
import { faultsOf, readAll, readText, readingsOf } from './read-one.js';

const one = (resource: object, around = {}) => {
  const [reading] = readingsOf(resource, around);
  if (reading === undefined) throw new Error('no reading');
  return reading;
};
const doubtsOf = (resource: object): readonly string[] => one(resource).report?.doubts ?? [];
const fateOf = (resource: object) => readAll([{ resource }]).fates[0];

describe('codes', () => {
  // HL7 Personal Health Device and Point-of-Care Device guides: MDC and LOINC side by side.
  it.each([
    [
      'MDC alone',
      concept([MDC, '147842', 'MDC_ECG_HEART_RATE']),
      '/min',
      { vital: 'pulse-rate', method: 'electrocardiography' },
    ],
    ['LOINC alone', concept([LOINC, '8331-1']), 'Cel', { vital: 'body-temperature', site: 'oral' }],
    [
      'both',
      concept([LOINC, '8867-4'], [MDC, '149530']),
      '/min',
      { vital: 'pulse-rate', method: 'pulse-oximetry' },
    ],
    [
      'one that nobody knows beside',
      concept([SNOMED, '364075005'], [LOINC, '9279-1']),
      '/min',
      { vital: 'respiratory-rate' },
    ],
  ])('%s', (_what, code, unit, expected) => {
    expect(one(saturation({ code, valueQuantity: quantity(20, unit) }))).toMatchObject(expected);
  });

  it('that contradict each other, or a name of its own, are doubted', () => {
    const rate = { valueQuantity: quantity(60, '/min') };
    expect(
      doubtsOf(saturation({ ...rate, code: concept([LOINC, '8867-4'], [LOINC, '9279-1']) })),
    ).toEqual(['codes-disagree']);
    expect(
      doubtsOf(saturation({ ...rate, code: concept([MDC, '147842', 'MDC_RESP_RATE']) })),
    ).toEqual(['code-name-mismatch']);
    expect(doubtsOf(saturation({ method: concept([SNOMED, '37931006']) }))).toEqual([
      'codes-disagree',
    ]);
    expect(
      doubtsOf(
        saturation({
          bodySite: {
            coding: [
              { system: SNOMED, code: '7569003' },
              { system: SNOMED, code: '29707007' },
            ],
          },
        }),
      ),
    ).toEqual(['site-unclear']);
  });

  it('of a source’s own count by its mapping', () => {
    const profile = {
      mapping: {
        codes: [{ system: 'urn:example:local', code: 'T1', vital: 'body-temperature' as const }],
        units: [{ alias: 'C', unit: 'Cel' as const }],
      },
    };
    const sent = saturation({
      code: concept(['urn:example:local', 'T1']),
      valueQuantity: { value: 37.2, unit: 'C' },
    });
    expect(one(sent, { profile })).toMatchObject({
      vital: 'body-temperature',
      value: '37.2',
      unit: 'Cel',
    });
    expect(fateOf(sent)).toMatchObject({ kind: 'unread', reason: 'code-unmapped' });
  });

  it('of what is no vital sign bring no reading', () => {
    for (const [code, reason] of [
      [concept([MDC, '150084']), 'not-a-vital-sign'],
      [concept([MDC, '150320']), 'not-a-vital-sign'],
      [concept([LOINC, '2339-0']), 'code-unmapped'],
    ] as const) {
      expect(fateOf(saturation({ code }))).toMatchObject({ kind: 'unread', reason });
    }
  });
});

describe('pressures', () => {
  it('come from components, by cuff unless somebody listened', () => {
    expect(one(pressure(121, 77))).toMatchObject({
      vital: 'blood-pressure',
      method: 'oscillometry',
      systolic: '121',
      diastolic: '77',
      unit: 'mm[Hg]',
    });
    const heard = one(pressure(121, 77, { method: concept([SNOMED, '37931006']) }));
    expect([heard.method, heard.report?.doubts]).toEqual(['auscultation', undefined]);
  });

  it('keep the parts that were measured', () => {
    const component = [
      { code: concept([LOINC, '8480-6']), valueQuantity: quantity(121, 'mm[Hg]') },
      { code: concept([LOINC, '8462-4']), dataAbsentReason: concept([ABSENT, 'not-a-number']) },
    ];
    const reading = one(pressure(0, 0, { component }));
    expect([reading.systolic, reading.diastolic]).toEqual(['121', undefined]);
    const none = component.map(({ code }) => ({
      code,
      dataAbsentReason: concept([ABSENT, 'error']),
    }));
    expect(fateOf(pressure(0, 0, { component: none }))).toMatchObject({
      kind: 'unread',
      reason: 'no-value',
    });
  });

  it('in parts of one device and time are one reading, and both entries are told of it', () => {
    const part = (mdc: string, value: number, more = {}) => ({
      resource: saturation({
        code: concept([MDC, mdc]),
        valueQuantity: quantity(value, 'mm[Hg]'),
        ...more,
      }),
    });
    const { sets, fates } = readAll([
      part('150022', 77),
      part('150021', 121),
      part('150021', 140, { effectiveDateTime: '2026-03-02T07:50:00+01:00' }),
    ]);
    expect(sets.flatMap(({ readings }) => readings)).toMatchObject([
      { index: 0, systolic: '121', diastolic: '77' },
      { index: 2, systolic: '140' },
    ]);
    expect(fates).toEqual([
      { kind: 'reading', places: [0] },
      { kind: 'reading', places: [0] },
      { kind: 'reading', places: [2] },
    ]);
  });

  it('in several units, or with a value of their own, are refused', () => {
    const component = [
      { code: concept([LOINC, '8480-6']), valueQuantity: quantity(16, 'kPa') },
      { code: concept([LOINC, '8462-4']), valueQuantity: quantity(77, 'mm[Hg]') },
    ];
    expect(faultsOf(pressure(0, 0, { component }))).toEqual([
      'code-invalid component[1].valueQuantity',
    ]);
    expect(faultsOf(pressure(1, 2, { valueQuantity: quantity(1, 'mm[Hg]') }))).toContain(
      'structure valueQuantity',
    );
    const twice = [component[1], component[1]];
    expect(faultsOf(pressure(0, 0, { component: twice }))).toContain('structure component[1]');
  });
});

describe('values', () => {
  it('keep their digits', () => {
    const text = JSON.stringify([saturation({ valueQuantity: '?' })]);
    const withNumber = (number: string): string =>
      text.replace('"?"', `{"value":${number},"system":"http://unitsofmeasure.org","code":"%"}`);
    for (const [sent, kept] of [
      ['95.0', '95.0'],
      ['95.10', '95.10'],
      ['9.5e1', 95],
      ['95', '95'],
    ] as const) {
      const { sets } = readText(withNumber(sent), [{}]);
      expect(sets[0]?.readings[0]?.value).toBe(kept);
    }
    const { sets } = readText(withNumber('1e300'), [{}]);
    expect(sets[0]?.readings[0]).toMatchObject({
      report: { doubts: ['value-unreadable'], asSent: '1e300 %' },
    });
  });

  it('with a comparator are bounds, and no numbers', () => {
    const reading = one(saturation({ valueQuantity: quantity(70, '%', { comparator: '<' }) }));
    expect([reading.value, reading.report?.asSent, reading.report?.doubts]).toEqual([
      undefined,
      '< 70 %',
      ['value-unreadable'],
    ]);
  });

  it('have the unit of their code, and never that of their words', () => {
    expect(one(saturation({ valueQuantity: { value: 95, unit: '%' } })).unit).toBe('%');
    expect(
      one(
        saturation({ valueQuantity: { value: 95, system: MDC, code: '262688', unit: 'percent' } }),
      ).unit,
    ).toBe('%');
    expect(
      one(saturation({ valueQuantity: { value: 95, system: 'urn:x:u', code: '%' } })).unit,
    ).toBe('%');
  });

  it.each([
    ['asked-declined', { absent: 'refused' }],
    ['not-performed', { absent: 'not-done' }],
  ])('absent: %s', (code, expected) => {
    const sent = saturation({
      valueQuantity: undefined,
      dataAbsentReason: concept([ABSENT, code]),
      status: 'cancelled',
    });
    expect(one(sent)).toMatchObject(expected);
    expect(doubtsOf(sent)).toEqual([]);
  });

  it.each(['unknown', 'temp-unknown', 'error', 'not-a-number', 'positive-infinity', 'masked'])(
    'absent because %s say nothing of the patient',
    (code) => {
      const sent = saturation({
        valueQuantity: undefined,
        dataAbsentReason: concept([ABSENT, code]),
      });
      expect(fateOf(sent)).toMatchObject({ kind: 'unread', reason: 'no-value' });
    },
  );
});

describe('trust', () => {
  const POCD = 'http://terminology.hl7.org/CodeSystem/measurement-status';
  const PHD = 'http://hl7.org/fhir/uv/pocd/CodeSystem/measurement-status';
  const ACT_REASON = 'http://terminology.hl7.org/CodeSystem/v3-ActReason';

  it.each([
    [{ status: 'final' }, {}],
    [{ status: 'preliminary' }, { reviewed: false }],
    [{ status: 'unknown' }, { doubts: ['status-unclear'] }],
    [{ status: 'cancelled' }, { doubts: ['status-unclear'] }],
    [{ status: 'registered' }, { doubts: ['status-unclear'] }],
    [{ interpretation: [concept([POCD, 'questionable'])] }, { signal: ['questionable'] }],
    [
      { interpretation: [concept([PHD, 'early-indication'])], status: 'preliminary' },
      { reviewed: false, signal: ['early'] },
    ],
    [{ interpretation: [concept([PHD, 'calibration-ongoing'])] }, { signal: ['calibrating'] }],
    [{ interpretation: [concept([POCD, 'validated-data'])] }, { reviewed: true }],
    [{ interpretation: [concept([PHD, 'in-alarm'])] }, {}],
    [{ meta: { security: [{ system: ACT_REASON, code: 'HTEST' }] } }, { doubts: ['test-data'] }],
    [{ meta: { security: [{ code: 'UNCERTREL' }] } }, { signal: ['questionable'] }],
    [
      {
        interpretation: [
          concept(['http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation', '>']),
        ],
      },
      { doubts: ['value-unreadable'] },
    ],
  ])('%j', (change, expected) => {
    expect(one(saturation(change)).report).toEqual({ at: 'entry 0', ...expected });
  });
});

describe('times', () => {
  it.each([
    [{ effectiveDateTime: undefined }, undefined, ['time-missing']],
    [{ effectiveDateTime: '2026-03-02' }, undefined, ['time-imprecise']],
    [{ effectiveDateTime: '1999-12-31T23:59:59Z' }, '1999-12-31T23:59:59Z', ['clock-unset']],
    [
      { effectiveDateTime: undefined, effectiveInstant: '2026-03-02T07:40:00.123Z' },
      '2026-03-02T07:40:00.123Z',
      undefined,
    ],
    [
      {
        effectiveDateTime: undefined,
        effectivePeriod: { start: '2026-03-02T07:39:30Z', end: '2026-03-02T07:40:00Z' },
      },
      '2026-03-02T07:40:00Z',
      undefined,
    ],
  ])('%j', (change, takenAt, doubts) => {
    const reading = one(saturation(change));
    expect([reading.takenAt, reading.report?.doubts]).toEqual([takenAt, doubts]);
  });

  it.each([
    [
      { start: '2026-03-02T07:00:00Z', end: '2026-03-02T07:40:00Z' },
      'business-rule effectivePeriod',
    ],
    [
      { start: '2026-03-02T07:41:00Z', end: '2026-03-02T07:40:00Z' },
      'business-rule effectivePeriod',
    ],
    [{ start: '2026-03-02T07:40:00Z' }, 'required effectivePeriod'],
  ])('no average over %j', (effectivePeriod, fault) => {
    expect(faultsOf(saturation({ effectiveDateTime: undefined, effectivePeriod }))).toContain(
      fault,
    );
  });

  it('a leap second is no time that can be kept', () => {
    expect(faultsOf(saturation({ effectiveDateTime: '2016-12-31T23:59:60Z' }))).toEqual([
      'value effectiveDateTime',
    ]);
  });
});
