import fc from 'fast-check';
import { obx, readingIn, readingsIn, row, unreadIn } from './deliveries.js';

const spo2 = (value: string, fields = {}) => row('spo2', '1.1.1.1', value, fields);
const bodyWeight = (value: string, fields = {}) =>
  obx({ 2: 'NM', 3: '29463-7^^LN', 5: value, 6: 'kg^^UCUM', 11: 'F', ...fields });

describe('numbers: data type NM (HL7 v2.9.1 §2A.2.50)', () => {
  test.each([
    ['98', '98'],
    ['36.50', '36.50'],
    ['+98', '98'],
    ['-3.5', '-3.5'],
    ['0098', '98'],
    ['0.5', '0.5'],
    ['00.50', '0.50'],
    ['98.', '98'],
    [' 98 ', '98'],
    ['0', '0'],
    ['-1', '-1'],
    ['8388607', '8388607'],
    ['1234567890123456', '1234567890123456'],
  ])('%p is %p', (sent, value) => {
    expect(readingIn([bodyWeight(sent)])).toMatchObject({ value });
    expect(readingIn([bodyWeight(sent)]).report?.doubts).toBeUndefined();
  });

  test.each([
    '.5',
    '1e308',
    '98,6',
    'NaN',
    '1 234',
    '98%',
    '--',
    '12345678901234567',
    '0x62',
    '٣',
    '98^99',
    '98&99',
    '97~98',
    '+',
    '1-2',
  ])('%p is none, and is kept as it was sent', (sent) => {
    const { value, report } = readingIn([bodyWeight(sent)]);
    expect(value).toBeUndefined();
    expect(report?.doubts).toEqual(['value-unreadable']);
    expect(report?.asSent).toBe(sent);
  });

  test('what is kept of a value is bounded', () => {
    expect(readingIn([bodyWeight('9'.repeat(100_000))]).report?.asSent).toHaveLength(200);
  });

  test('every decimal of at most 16 characters is read with all its digits', () => {
    const decimal = fc.tuple(fc.nat(999_999), fc.option(fc.nat(999_999), { nil: null }));
    fc.assert(
      fc.property(decimal, ([whole, fraction]) => {
        const sent = fraction === null ? String(whole) : `${whole}.${fraction}`;
        expect(readingIn([bodyWeight(sent)]).value).toBe(sent);
      }),
      { numRuns: 60 },
    );
  });
});

describe('structured numbers: data type SN (HL7 v2.9.1 §2A.2.72)', () => {
  test.each(['^98', '=^98', '^98^^'])('%p is a plain number', (sent) => {
    expect(readingIn([spo2(sent, { 2: 'SN' })])).toMatchObject({ value: '98' });
  });

  test.each(['<^70', '<=^70', '>^70', '>=^70'])('%p leaves open how much', (sent) => {
    const { value, note, report } = readingIn([spo2(sent, { 2: 'SN' })]);
    expect([value, note, report?.doubts]).toEqual([
      '70',
      `Value as sent: ${sent}`,
      ['value-not-plain'],
    ]);
  });

  test.each(['^90^-^95', '^1^:^2', '~^70', '<>^70', '<^', '<^abc', '70'])(
    '%p is no value',
    (sent) => {
      expect(readingIn([spo2(sent, { 2: 'SN' })]).report?.doubts).toEqual(['value-unreadable']);
    },
  );
});

describe('other data types', () => {
  test.each(['ST', 'TX', 'FT', ''])('a number that calls itself %p is read, in doubt', (type) => {
    const { value, report } = readingIn([spo2('88', { 2: type })]);
    expect([value, report?.doubts, report?.asSent]).toEqual(['88', ['value-not-plain'], '88']);
  });

  test.each([
    ['ST', 'low'],
    ['CWE', '88'],
    ['DTM', '20260301'],
    ['NA', '88^89'],
    ['ED', '^TEXT^^Base64^AAAA'],
  ])('%s %p is no number', (type, sent) => {
    expect(readingIn([spo2(sent, { 2: type })]).report?.doubts).toEqual(['value-unreadable']);
  });

  test('a level of consciousness is a SNOMED CT code (value set as published by UK Core)', () => {
    const level = (value: string) => obx({ 2: 'CWE', 3: '67775-7^^LN', 5: value, 11: 'F' });
    expect(readingIn([level('300202002^Responds to voice^SCT')])).toMatchObject({ code: 'voice' });
    expect(readingIn([level('V^Voice^99N^300202002^^SCT')])).toMatchObject({ code: 'voice' });
    expect(readingIn([level('V^Voice^99N')]).report?.doubts).toEqual(['value-unreadable']);
  });
});

describe('no value', () => {
  test.each(['', '""', '^', '  ', '""~""'])('%p makes no reading, and deletes none', (sent) => {
    expect(readingsIn([spo2(sent)])).toEqual([]);
    expect(unreadIn([spo2(sent)])).toMatchObject([
      {
        index: 0,
        reason: 'no-value',
        code: { system: 'MDC', code: '150456', name: 'MDC_PULS_OXIM_SAT_O2' },
      },
    ]);
  });
});

describe('units (OBX-6)', () => {
  test.each([
    ['262688^MDC_DIM_PERCENT^MDC', '%'],
    ['262688^MDC_DIM_PERCENT^MDC^%^%^UCUM', '%'],
    ['%^%^UCUM', '%'],
    ['266528^MDC_DIM_KELVIN^MDC', 'K'],
    ['pct', 'pct'],
  ])('%p is %p', (sent, unit) => {
    expect(readingIn([spo2('98', { 6: sent })])).toMatchObject({ unit });
  });

  test('a missing one stays missing, and costs the reading later', () => {
    expect(readingIn([spo2('98', { 6: '' })]).unit).toBeUndefined();
  });

  test('both triplets have to agree; a number with another name is a doubt', () => {
    const sent = '268192^MDC_DIM_DEGC^MDC^[degF]^[degF]^UCUM';
    expect(readingIn([row('temperature', '1.1.1.1', '38', { 6: sent })]).report?.doubts).toEqual([
      'codes-disagree',
    ]);
    const misnamed = '268192^MDC_DIM_FAHR^MDC';
    expect(
      readingIn([row('temperature', '1.1.1.1', '38', { 6: misnamed })]).report?.doubts,
    ).toEqual(['code-name-mismatch']);
  });

  test('a spelling of the source counts by its mapping', () => {
    const mapping = { codes: [], units: [{ alias: 'pct', unit: '%' as const }] };
    expect(readingIn([spo2('98', { 6: 'pct' })], { profile: { mapping } }).unit).toBe('%');
  });

  test('a partial pressure stays what it is: the catalogue does not take it for inspired oxygen', () => {
    const fio2 = obx({
      2: 'NM',
      3: '152196^MDC_CONC_AWAY_O2_INSP^MDC',
      5: '31',
      6: '265987^MDC_DIM_KILO_PASCAL^MDC',
      11: 'R',
    });
    expect(readingIn([fio2])).toMatchObject({ vital: 'inspired-oxygen', value: '31', unit: 'kPa' });
  });
});

describe('codes (OBX-3)', () => {
  test('one that nobody knows is kept for a mapping, and read once there is one', () => {
    const glow = obx({ 2: 'NM', 3: 'SAT^Sättigung^99NORTH', 5: '96', 6: '%^^UCUM', 11: 'R' });
    expect(unreadIn([glow])).toMatchObject([
      { reason: 'code-unmapped', code: { system: '99NORTH', code: 'SAT' }, unit: '%', value: '96' },
    ]);
    const mapping = {
      codes: [{ system: '99NORTH', code: 'SAT', vital: 'oxygen-saturation' as const }],
      units: [],
    };
    expect(readingIn([glow], { profile: { mapping } })).toMatchObject({
      vital: 'oxygen-saturation',
      value: '96',
    });
  });

  test('a weight that was typed in at the device is marked', () => {
    const typed = obx({
      2: 'NM',
      3: '68063^MDC_ATTR_PT_WEIGHT^MDC',
      4: '1.0.0.1',
      5: '81',
      6: '263875^MDC_DIM_KILO_G^MDC',
      11: 'R',
    });
    expect(readingIn([typed]).report?.doubts).toEqual(['typed-in-value']);
  });

  test('a rate of a ventilator and a perfusion index are no vital signs here', () => {
    const rows = [
      obx({ 2: 'NM', 3: '151586^MDC_VENT_RESP_RATE^MDC', 4: '1.1.1.1', 5: '14', 11: 'R' }),
      obx({ 2: 'NM', 3: '150488^MDC_BLD_PERF_INDEX^MDC', 4: '1.1.1.2', 5: '2.1', 11: 'R' }),
    ];
    expect(unreadIn(rows).map(({ reason, message }) => [reason, message])).toEqual([
      ['not-a-vital-sign', "A ventilator's rate is none of the vital signs."],
      ['not-a-vital-sign', 'A perfusion index is none of the vital signs.'],
    ]);
  });

  test('alarm limits in OBX-7 play no part', () => {
    expect(readingIn([spo2('98', { 7: '90-100' })])).toEqual(readingIn([spo2('98')]));
  });
});
