import { readUnit, UNIT_ROWS } from '../../src/vitals/codes-units.js';

const mdc = (code: number, name: string) => ({ system: 'MDC', code: String(code), name });
const ucum = (code: string) => ({ system: 'UCUM', code, name: code });

/** NIST term and unit tables, January 2025; the right column is the unit of the gateway's contract. */
const PUBLISHED: readonly (readonly [number, string, string, string])[] = [
  [266016, 'MDC_DIM_MMHG', 'mm[Hg]', 'mm[Hg]'],
  [265987, 'MDC_DIM_KILO_PASCAL', 'kPa', 'kPa'],
  [262688, 'MDC_DIM_PERCENT', '%', '%'],
  [268384, 'MDC_DIM_VOL_PERCENT', '%{vol}', '%'],
  [264672, 'MDC_DIM_PER_MIN', '/min 1/min {count}/min', '/min'],
  [264864, 'MDC_DIM_BEAT_PER_MIN', '{beat}/min {beats}/min', '{beats}/min'],
  [264896, 'MDC_DIM_PULS_PER_MIN', '{pulse}/min {pulses}/min', '{beats}/min'],
  [264928, 'MDC_DIM_RESP_PER_MIN', '{breath}/min {breaths}/min {resp}/min', '{breaths}/min'],
  [268192, 'MDC_DIM_DEGC', 'Cel', 'Cel'],
  [266560, 'MDC_DIM_FAHR', '[degF]', '[degF]'],
  [263875, 'MDC_DIM_KILO_G', 'kg', 'kg'],
  [263872, 'MDC_DIM_G', 'g', 'g'],
  [263872, 'MDC_DIM_X_G', 'g', 'g'],
  [263904, 'MDC_DIM_LB', '[lb_av]', '[lb_av]'],
  [263441, 'MDC_DIM_CENTI_M', 'cm', 'cm'],
  [263424, 'MDC_DIM_M', 'm', 'm'],
  [263520, 'MDC_DIM_INCH', '[in_i]', '[in_i]'],
  [265216, 'MDC_DIM_L_PER_MIN', 'L/min l/min', 'L/min'],
  [262656, 'MDC_DIM_DIMLESS', '1 {unitless}', '1'],
  [266528, 'MDC_DIM_KELVIN', 'K', 'K'],
  [266048, 'MDC_DIM_CM_H2O', 'cm[H2O]', 'cm[H2O]'],
  [266098, 'MDC_DIM_MILLI_BAR', 'mbar', 'mbar'],
  [263936, 'MDC_DIM_OZ', '[oz_av]', '[oz_av]'],
];

describe.each(PUBLISHED)('%i %s', (code, name, spellings, unit) => {
  test('number, name and UCUM spellings are one unit, and agree', () => {
    expect(readUnit([mdc(code, name)], [])).toEqual({ unit, doubts: [] });
    for (const spelling of spellings.split(' ')) {
      expect(readUnit([ucum(spelling)], [])).toEqual({ unit, doubts: [] });
      expect(readUnit([mdc(code, name), ucum(spelling)], [])).toEqual({ unit, doubts: [] });
    }
  });

  test('a name without a number is remarked; a wrong name is a doubt', () => {
    expect(readUnit([{ system: 'MDC', name }], [])).toEqual({
      unit,
      doubts: ['code-by-name-only'],
    });
    expect(readUnit([mdc(code, 'MDC_DIM_WRONG')], [])).toEqual({
      unit,
      doubts: ['code-name-mismatch'],
    });
  });
});

test('numbers and spellings are there once', () => {
  for (const keys of [
    UNIT_ROWS.map((row) => row.mdc),
    UNIT_ROWS.flatMap((row) => row.names),
    UNIT_ROWS.flatMap((row) => row.ucum),
  ]) {
    expect(new Set<number | string>(keys).size).toBe(keys.length);
  }
});

test('the number of degrees Celsius under the name of Fahrenheit is a doubt', () => {
  expect(readUnit([mdc(268192, 'MDC_DIM_FAHR')], []).doubts).toEqual(['code-name-mismatch']);
});

test('codes that contradict each other are a doubt; rates differ in words only', () => {
  expect(readUnit([mdc(268192, 'MDC_DIM_DEGC'), ucum('[degF]')], [])).toEqual({
    unit: 'Cel',
    doubts: ['codes-disagree'],
  });
  expect(readUnit([mdc(268192, 'MDC_DIM_DEGC'), ucum('K')], []).doubts).toEqual(['codes-disagree']);
  expect(readUnit([mdc(264864, 'MDC_DIM_BEAT_PER_MIN'), ucum('/min')], []).doubts).toEqual([]);
});

test.each(['mmHg', 'mm[hg]', 'bpm', 'degF', '°C', 'cel', 'CEL', '', 'MMHG'])(
  'the spelling %p is passed on as sent',
  (code) => {
    expect(readUnit([ucum(code)], [])).toEqual({ unit: code, doubts: [] });
    expect(readUnit([{ code }], [])).toEqual({ unit: code, doubts: [] });
  },
);

test.each(['0x40F20', '2.66016e5', ' 266016', '266016.0'])('%p is no MDC number', (code) => {
  expect(readUnit([{ system: 'MDC', code }], [])).toEqual({ unit: code, doubts: [] });
});

test('an alias of the source counts, letter by letter', () => {
  const aliases = [{ alias: 'mmHg', unit: 'mm[Hg]' }] as const;
  expect(readUnit([ucum('mmHg')], aliases)).toEqual({ unit: 'mm[Hg]', doubts: [] });
  expect(readUnit([{ code: 'mmHg' }], aliases).unit).toBe('mm[Hg]');
  expect(readUnit([ucum('mmhg')], aliases).unit).toBe('mmhg');
});

test('UCUM is read without a system too, in its exact spelling; a local list is not', () => {
  expect(readUnit([{ code: 'mm[Hg]' }], []).unit).toBe('mm[Hg]');
  expect(readUnit([{ code: 'g', system: '99WARD' }], [])).toEqual({ unit: 'g', doubts: [] });
});

test('no unit, and one too long to keep', () => {
  expect(readUnit([], [])).toEqual({ doubts: [] });
  expect(readUnit([{ system: 'UCUM' }], [])).toEqual({ doubts: [] });
  expect(readUnit([ucum('x'.repeat(5000))], []).unit).toHaveLength(60);
});
