import { CATALOGUE } from '../../src/vitals/catalogue.js';
import type { CodedSign } from '../../src/vitals/coded-sign.js';
import { readUnit } from '../../src/vitals/codes-units.js';
import { findSign } from '../../src/vitals/find-sign.js';
import { SITES, type Vital } from '../../src/vitals/words.js';

/**
 * Typed again from the publications: number, reference id and units from the term and unit tables of the
 * NIST device-communication tools (January 2025); LOINC from the HL7 device guides, gematik and MII
 * examples and the FHIR vital-sign value sets. Columns: number, reference id, sign | part, method, site |
 * LOINC | units (MDC_DIM_ left out).
 */
const PUBLISHED = `
  150020 PRESS_BLD_NONINV panel | oscillometry | 85354-9 | KILO_PASCAL MMHG
  150021 PRESS_BLD_NONINV_SYS blood-pressure | systolic oscillometry | 8480-6 | KILO_PASCAL MMHG
  150022 PRESS_BLD_NONINV_DIA blood-pressure | diastolic oscillometry | 8462-4 | KILO_PASCAL MMHG
  150023 PRESS_BLD_NONINV_MEAN blood-pressure | mean oscillometry | 8478-0 | KILO_PASCAL MMHG
  150301 PRESS_CUFF_SYS blood-pressure | systolic oscillometry | 8480-6 | KILO_PASCAL MMHG
  150302 PRESS_CUFF_DIA blood-pressure | diastolic oscillometry | 8462-4 | KILO_PASCAL MMHG
  150303 PRESS_CUFF_MEAN blood-pressure | mean oscillometry | 8478-0 | KILO_PASCAL MMHG
  150016 PRESS_BLD panel |  | 85354-9 | KILO_PASCAL MMHG
  150017 PRESS_BLD_SYS blood-pressure | systolic | 8480-6 | KILO_PASCAL MMHG
  150018 PRESS_BLD_DIA blood-pressure | diastolic | 8462-4 | KILO_PASCAL MMHG
  150019 PRESS_BLD_MEAN blood-pressure | mean | 8478-0 | KILO_PASCAL MMHG
  150033 PRESS_BLD_ART_SYS blood-pressure | systolic invasive | 76215-3 8480-6 | KILO_PASCAL MMHG
  150034 PRESS_BLD_ART_DIA blood-pressure | diastolic invasive | 76213-8 8462-4 | KILO_PASCAL MMHG
  150035 PRESS_BLD_ART_MEAN blood-pressure | mean invasive | 76214-6 8478-0 | KILO_PASCAL MMHG
  150037 PRESS_BLD_ART_ABP_SYS blood-pressure | systolic invasive | 76215-3 8480-6 | KILO_PASCAL MMHG
  150038 PRESS_BLD_ART_ABP_DIA blood-pressure | diastolic invasive | 76213-8 8462-4 | KILO_PASCAL MMHG
  150039 PRESS_BLD_ART_ABP_MEAN blood-pressure | mean invasive | 76214-6 8478-0 | KILO_PASCAL MMHG
  150045 PRESS_BLD_ART_PULM_SYS none |  | 8440-0 | KILO_PASCAL MMHG
  150046 PRESS_BLD_ART_PULM_DIA none |  | 8385-7 | KILO_PASCAL MMHG
  150047 PRESS_BLD_ART_PULM_MEAN none |  | 8414-5 | KILO_PASCAL MMHG
  150087 PRESS_BLD_VEN_CENT_MEAN none |  |  | KILO_PASCAL MMHG
  149514 PULS_RATE pulse-rate |  | 8867-4 | PER_MIN BEAT_PER_MIN PULS_PER_MIN
  149546 PULS_RATE_NON_INV pulse-rate | oscillometry | 8867-4 | PER_MIN BEAT_PER_MIN PULS_PER_MIN
  149530 PULS_OXIM_PULS_RATE pulse-rate | pulse-oximetry | 8867-4 8889-8 | PER_MIN BEAT_PER_MIN PULS_PER_MIN
  149538 PLETH_PULS_RATE pulse-rate | pulse-oximetry | 8867-4 |
  149522 BLD_PULS_RATE_INV pulse-rate | invasive | 8867-4 60978-4 | PER_MIN BEAT_PER_MIN PULS_PER_MIN
  147842 ECG_HEART_RATE pulse-rate | electrocardiography | 8867-4 | BEAT_PER_MIN
  149554 TTHOR_HEART_RATE pulse-rate |  | 8867-4 | BEAT_PER_MIN
  147850 ECG_CARD_BEAT_RATE_BTB none |  | 8867-4 | BEAT_PER_MIN
  150456 PULS_OXIM_SAT_O2 oxygen-saturation | pulse-oximetry | 59408-5 2708-6 | PERCENT
  150460 PULS_OXIM_SAT_O2_CTS oxygen-saturation | pulse-oximetry | 59408-5 2708-6 |
  150464 PULS_OXIM_SAT_O2_NONCTS oxygen-saturation | pulse-oximetry | 59408-5 2708-6 |
  150472 PULS_OXIM_SAT_O2_ART_LEFT oxygen-saturation | pulse-oximetry | 59408-5 2708-6 | PERCENT
  150476 PULS_OXIM_SAT_O2_ART_RIGHT oxygen-saturation | pulse-oximetry | 59408-5 2708-6 | PERCENT
  160296 PULS_OXIM_SAT_O2_ART_PREDUCTAL oxygen-saturation | pulse-oximetry | 59407-7 | PERCENT
  160300 PULS_OXIM_SAT_O2_ART_POSTDUCTAL oxygen-saturation | pulse-oximetry | 59418-4 | PERCENT
  150468 PULS_OXIM_SAT_O2_DIFF none |  |  | PERCENT
  150324 SAT_O2_ART none |  | 2708-6 | PERCENT
  150316 SAT_O2 none |  |  |
  150320 SAT_O2_QUAL context |  |  | DIMLESS PERCENT
  150448 PULS_OXIM_PERF_REL context |  |  | DIMLESS
  150488 BLD_PERF_INDEX context |  |  | PERCENT
  151562 RESP_RATE respiratory-rate |  | 9279-1 | RESP_PER_MIN
  151570 AWAY_RESP_RATE respiratory-rate |  | 9279-1 | RESP_PER_MIN
  151578 TTHOR_RESP_RATE respiratory-rate | impedance | 9279-1 | RESP_PER_MIN
  151594 CO2_RESP_RATE respiratory-rate | capnography | 9279-1 | RESP_PER_MIN
  151650 ACOUSTIC_RESP_RATE respiratory-rate |  | 9279-1 | RESP_PER_MIN
  151658 PULS_OXIM_PLETH_RESP_RATE respiratory-rate | pulse-oximetry | 9279-1 | RESP_PER_MIN
  151586 VENT_RESP_RATE none |  | 33438-3 | RESP_PER_MIN
  150344 TEMP body-temperature |  | 8310-5 | DEGC FAHR
  150364 TEMP_BODY body-temperature |  | 8310-5 | DEGC FAHR
  150368 TEMP_CORE body-temperature | core | 8329-5 | DEGC FAHR
  188424 TEMP_ORAL body-temperature | oral | 8331-1 | DEGC FAHR
  188420 TEMP_RECT body-temperature | rectal | 8332-9 | DEGC FAHR
  188452 TEMP_AXILLA body-temperature | axillary | 8328-7 | DEGC FAHR
  188496 TEMP_AXIL body-temperature | axillary | 8328-7 | DEGC FAHR
  150392 TEMP_TYMP body-temperature | tympanic | 8333-7 | DEGC FAHR
  188428 TEMP_EAR body-temperature | ear | 8310-5 | DEGC FAHR
  150372 TEMP_ESOPH body-temperature | core | 60836-4 | DEGC FAHR
  150380 TEMP_NASOPH body-temperature | core | 60838-0 | DEGC FAHR
  188504 TEMP_NASAL body-temperature |  | 76010-8 | DEGC FAHR
  188436 TEMP_BLD body-temperature | core | 60834-9 | DEGC FAHR
  150348 TEMP_FOLEY body-temperature | core | 8310-5 8334-5 | DEGC FAHR
  150388 TEMP_SKIN none |  |  | DEGC FAHR
  188432 TEMP_FINGER none |  |  | DEGC FAHR
  188448 TEMP_TOE none |  |  | DEGC FAHR
  188444 TEMP_SURF none |  |  |
  150356 TEMP_AWAY none |  | 60955-2 | DEGC FAHR
  188508 TEMP_ROOM none |  |  | DEGC FAHR
  188440 TEMP_DIFF none |  |  | DEGC FAHR
  152196 CONC_AWAY_O2_INSP inspired-oxygen |  | 3150-0 | PERCENT VOL_PERCENT KILO_PASCAL MMHG MILLI_BAR
  153144 CONC_GASDLV_O2_INSP inspired-oxygen |  | 3150-0 | PERCENT KILO_PASCAL MMHG VOL_PERCENT MILLI_BAR
  151908 CONC_AWAY_O2 none |  |  | PERCENT VOL_PERCENT KILO_PASCAL MMHG MILLI_BAR
  188736 MASS_BODY_ACTUAL body-weight |  | 29463-7 | LB KILO_G G OZ
  188740 LEN_BODY_ACTUAL body-height |  | 8302-2 | INCH CENTI_M
  68060 ATTR_PT_HEIGHT body-height |  | 8302-2 | CENTI_M INCH
  68063 ATTR_PT_WEIGHT body-weight |  | 29463-7 | KILO_G G LB OZ
`;

const ROWS = PUBLISHED.trim()
  .split('\n')
  .map((line) => {
    const [head = '', words = '', loinc = '', units = ''] = line.split('|').map((s) => s.trim());
    const [code = '', id = '', vital = ''] = head.split(' ');
    const list = (text: string) => text.split(' ').filter((word) => word !== '');
    return {
      code,
      name: `MDC_${id}`,
      vital,
      words: list(words),
      loinc: list(loinc),
      units: list(units),
    };
  });

/** What the published pairings leave to a decision of the gateway: the code is not the sign of its LOINC. */
const NOT_ITS_LOINC = ['MDC_SAT_O2_ART', 'MDC_ECG_CARD_BEAT_RATE_BTB'];

function told({ part, method, site }: CodedSign): string[] {
  return [part, method, site].filter((word) => word !== undefined);
}

test('the table has 77 published terms', () => {
  expect(ROWS).toHaveLength(77);
});

describe.each(ROWS)('$code $name', ({ code, name, vital, words, loinc, units }) => {
  const sent = { system: 'MDC', code, name };
  const found = findSign([sent]);

  test('means what the reference id says', () => {
    expect(found.doubts).toEqual([]);
    if (found.kind === 'sign') {
      expect(found.sign.vital).toBe(vital);
      expect(told(found.sign)).toEqual(words);
    } else if (vital === 'none') {
      expect(found.kind).toBe('not-a-vital-sign');
    } else {
      expect(found.kind).toBe(vital);
    }
  });

  test('a name of another number makes it doubtful', () => {
    expect(findSign([{ ...sent, name: 'MDC_ECG_TIME_PD_QT_GL' }]).doubts).toEqual([
      'code-name-mismatch',
    ]);
  });

  test('agrees with the LOINC codes that publications pair with it', () => {
    const together = findSign([sent, ...loinc.map((code) => ({ system: 'LN', code }))]);
    expect(together.doubts).toEqual(NOT_ITS_LOINC.includes(name) ? ['codes-disagree'] : []);
  });

  test('every unit that the NIST table allows is read, and taken unless it is a pressure of a gas', () => {
    if (found.kind !== 'sign') return;
    const row = CATALOGUE[found.sign.vital];
    for (const unit of units) {
      const read = readUnit([{ system: 'MDC', name: `MDC_DIM_${unit}` }], []);
      const taken = (row.unitsTaken as readonly string[]).includes(read.unit ?? '');
      const other = row.unit === '%' ? ['KILO_PASCAL', 'MMHG', 'MILLI_BAR'] : ['OZ'];
      expect(taken).toBe(!other.includes(unit));
    }
  });
});

test.each(Object.entries(CATALOGUE))(
  '%s: every coding that goes out is read back',
  (vital, row) => {
    const all = [row, ...row.parts].flatMap(({ codings, specific }) => [
      ...codings,
      ...specific.map(({ coding }) => coding),
    ]);
    for (const { system, code } of all) {
      const found = findSign([{ system, code }]);
      if (found.kind === 'sign') expect(found.sign.vital).toBe(vital as Vital);
      else expect([found.kind, vital]).toEqual(['panel', 'blood-pressure']);
    }
  },
);

test.each(SITES)('a site that a code implies is one that its sign takes: %s', (site) => {
  for (const { code } of ROWS) {
    const found = findSign([{ system: 'MDC', code }]);
    if (found.kind !== 'sign' || found.sign.site !== site) continue;
    expect(CATALOGUE[found.sign.vital].sitesTaken).toContain(site);
  }
});

describe('codes as senders write them', () => {
  const SPO2 = { system: 'MDC', code: '150456', name: 'MDC_PULS_OXIM_SAT_O2' };

  test('both reference ids of the ECG rate are names of its number (NIST)', () => {
    for (const name of ['MDC_ECG_HEART_RATE', 'MDC_ECG_CARD_BEAT_RATE']) {
      expect(findSign([{ system: 'MDC', code: '147842', name }]).doubts).toEqual([]);
    }
  });

  test('a systolic name of the cuff on the number of an unspecified pressure is doubtful', () => {
    const found = findSign([{ system: 'MDC', code: '150017', name: 'MDC_PRESS_BLD_NONINV_SYS' }]);
    expect(found).toMatchObject({ kind: 'sign', sign: { part: 'systolic' } });
    expect(found.doubts).toEqual(['code-name-mismatch']);
  });

  test('a name without a number counts, with a remark; one that nobody knows does not', () => {
    for (const sent of [
      { system: 'MDC', name: 'MDC_TEMP_RECT' },
      { system: 'MDC', code: 'MDC_TEMP_RECT' },
    ]) {
      const found = findSign([sent]);
      expect(found).toMatchObject({ kind: 'sign', sign: { site: 'rectal' } });
      expect(found.doubts).toEqual(['code-by-name-only']);
    }
    expect(findSign([{ system: 'MDC', name: 'MDC_TEMP_SOMEWHERE' }]).kind).toBe('unmapped');
  });

  test('a known name on a number that nobody knows is held, not lost', () => {
    const found = findSign([{ system: 'MDC', code: '18949', name: 'MDC_PRESS_BLD_NONINV_SYS' }]);
    expect(found).toMatchObject({ kind: 'sign', doubts: ['code-name-mismatch'] });
  });

  test.each(['61441', '67170304', '67108900'])('the private code %s means nothing', (code) => {
    expect(findSign([{ ...SPO2, code }]).kind).toBe('unmapped');
  });

  test.each(['MDC', 'urn:iso:std:iso:11073:10101', 'urn:oid:2.16.840.1.113883.6.24'])(
    'the system may be named %s',
    (system) => {
      expect(findSign([{ ...SPO2, system }]).kind).toBe('sign');
    },
  );

  test('LOINC under the address that some exporters use', () => {
    expect(findSign([{ system: 'https://loinc.org', code: '8867-4' }]).kind).toBe('sign');
  });

  test('without a system only number and MDC name together count', () => {
    expect(findSign([{ code: SPO2.code, name: SPO2.name }]).kind).toBe('sign');
    expect(findSign([{ code: SPO2.code }]).kind).toBe('unmapped');
    expect(findSign([{ code: '8867-4', name: 'Heart rate' }]).kind).toBe('unmapped');
  });

  test('codes that contradict each other keep the sign, in doubt', () => {
    const heartRate = { system: 'LN', code: '8867-4' };
    expect(findSign([SPO2, heartRate])).toMatchObject({
      sign: { vital: 'oxygen-saturation' },
      doubts: ['codes-disagree'],
    });
    const ventilator = { system: 'MDC', code: '151586', name: 'MDC_VENT_RESP_RATE' };
    expect(findSign([ventilator, { system: 'LN', code: '9279-1' }])).toMatchObject({
      sign: { vital: 'respiratory-rate' },
      doubts: ['codes-disagree'],
    });
  });

  test('a local code beside a known one is ignored; a mapping of it wins', () => {
    const local = { system: '99WARD', code: 'SAT' };
    expect(findSign([local, SPO2])).toMatchObject({
      sign: { vital: 'oxygen-saturation' },
      doubts: [],
    });
    expect(findSign([local]).kind).toBe('unmapped');
    const mapping = [{ code: 'SAT', vital: 'inspired-oxygen' }] as const;
    expect(findSign([local, SPO2], mapping)).toMatchObject({ sign: { vital: 'inspired-oxygen' } });
    expect(findSign([local], [{ ...mapping[0], system: '99OTHER' }]).kind).toBe('unmapped');
  });

  test('typed-in weight and settings are marked', () => {
    expect(findSign([{ system: 'MDC', code: '68063' }])).toMatchObject({
      sign: { vital: 'body-weight', doubts: ['typed-in-value'] },
    });
    expect(findSign([{ system: 'MDC', code: '16930360' }])).toMatchObject({
      sign: { doubts: ['setting-not-measurement'] },
    });
  });
});
