import {
  deviceRow,
  observationsIn,
  obr,
  obx,
  readingIn,
  readingsIn,
  row,
  unreadIn,
} from './deliveries.js';
import { PATIENT } from './messages.js';

const spo2 = (fields = {}) => row('spo2', '1.1.1.1', '97', fields);
const reportOf = (fields: Readonly<Record<number, string>>, attended = false) =>
  readingIn([spo2(fields)], { profile: { attended } }).report;
const NURSE = { 16: 'N417^Marsh^Tilda' };

describe('status (OBX-11, IHE Devices TF-2 table B.8.5-11)', () => {
  test.each([
    ['F', {}, false, true],
    ['R', {}, false, false],
    ['R', {}, true, false],
    ['R', NURSE, false, false],
    ['R', NURSE, true, true],
    ['P', NURSE, true, false],
    ['S', NURSE, true, false],
  ])('%s, operator %p, attended %p: reviewed %p', (status, operator, attended, reviewed) => {
    const report = reportOf({ 11: status, ...operator }, attended);
    expect([report?.reviewed, report?.doubts]).toEqual([reviewed, undefined]);
  });

  test('an operator may be named by PRT, beside the row or the order (HL7 table 0912)', () => {
    const author = 'PRT|2|UC||RO^Responsible Observer^HL70912|N417^Marsh^Tilda';
    const attended = { profile: { attended: true } };
    const beside = observationsIn([PATIENT, obr(), spo2(), author], attended).sets[0];
    const above = observationsIn([PATIENT, obr(), author, spo2()], attended).sets[0];
    for (const set of [beside, above]) {
      expect(set).toMatchObject({
        recorder: { identifier: { system: 'urn:v2:BAYMON', value: 'N417' } },
        readings: [{ report: { reviewed: true } }],
      });
    }
  });

  test('an operator without a number counts as named', () => {
    expect(reportOf({ 16: '^Marsh^Tilda' }, true)?.reviewed).toBe(true);
  });

  test.each(['X', '', 'I', 'N', 'r', 'RR'])('%p with a value is unclear', (status) => {
    const report = reportOf({ 11: status });
    expect([report?.reviewed, report?.doubts]).toEqual([false, ['status-unclear']]);
  });

  test('X without a value is no reading', () => {
    expect(unreadIn([spo2({ 5: '', 11: 'X' })])).toMatchObject([{ reason: 'no-value' }]);
  });
});

describe('what speaks of an earlier reading', () => {
  const amendments = (fields: Readonly<Record<number, string>>) =>
    observationsIn([
      PATIENT,
      'PV1||I|NORTH^4^B||||||||||||||||V-310',
      obr(),
      deviceRow('MDS', '1.0.0.0', { 18: '^^0A1B2CFFFE000012^EUI-64' }),
      spo2(fields),
    ]);

  test.each([
    ['C', 'correct'],
    ['D', 'withdraw'],
    ['W', 'withdraw'],
    ['U', 'finalise'],
  ] as const)('%s means %s', (status, kind) => {
    const delivery = amendments({ 11: status, 14: '20260301095000+0100' });
    expect(delivery.sets).toEqual([]);
    expect(delivery.amendments).toMatchObject([
      {
        kind,
        status,
        patient: { identifier: { value: 'WB-7710' } },
        encounter: { identifier: { value: 'V-310' } },
        reading: {
          vital: 'oxygen-saturation',
          method: 'pulse-oximetry',
          device: { identifier: { value: '0A-1B-2C-FF-FE-00-00-12' } },
          takenAt: '2026-03-01T09:50:00+01:00',
          value: '97',
          index: 1,
          report: { at: 'OBX 2', reviewed: true },
        },
      },
    ]);
  });

  test.each(['D', 'W', 'U'])('%s needs no value', (status) => {
    for (const value of ['', '""']) {
      expect(amendments({ 5: value, 6: '', 11: status }).amendments).toHaveLength(1);
    }
  });

  test('a correction without a value corrects nothing', () => {
    const delivery = amendments({ 5: '""', 11: 'C' });
    expect(delivery.amendments).toEqual([]);
    expect(delivery.sets[0]?.unread).toMatchObject([{ reason: 'no-value' }]);
  });

  test.each([
    [{ 11: 'D' }, {}],
    [{}, { 8: 'DEMO' }],
  ])('a test changes nothing that was measured: %j %j', (header, flags) => {
    const rows = [spo2({ 11: 'W', ...flags })];
    const delivery = observationsIn([PATIENT, obr(), ...rows], { header });
    expect(delivery.amendments).toEqual([]);
    expect(delivery.sets).toMatchObject([{ readings: [{ report: { doubts: ['test-data'] } }] }]);
  });

  test('the parts of a pressure are one amendment', () => {
    const parts = [row('sys', '1.1.1.1', '', { 11: 'D' }), row('dia', '1.1.1.2', '', { 11: 'D' })];
    expect(observationsIn([PATIENT, obr(), ...parts]).amendments).toMatchObject([
      { kind: 'withdraw', reading: { vital: 'blood-pressure', report: { at: 'OBX 1, 2' } } },
    ]);
  });
});

describe('flags (OBX-8, IHE Devices TF-2 tables B.8.5-5 to -9)', () => {
  test.each([
    ['QUES', ['questionable']],
    ['CAL', ['calibrating']],
    ['EARLY', ['early']],
    ['EARLY~QUES', ['questionable', 'early']],
    ['QUES^Questionable^99NORTH', ['questionable']],
    ['N', undefined],
    ['HH~PH~ALACT', undefined],
    ['L~SP', undefined],
    ['WHATEVER', undefined],
  ])('%s: signal %p', (flags, signal) => {
    const report = reportOf({ 8: flags });
    expect([report?.signal, report?.doubts]).toEqual([signal, undefined]);
  });

  test.each(['TEST', 'DEMO'])('%s is test data, though MSH-11 is P', (flag) => {
    expect(reportOf({ 8: flag })?.doubts).toEqual(['test-data']);
  });

  test('a device in demonstration shows nothing of a patient', () => {
    const monitor = deviceRow('MDS', '1.0.0.0', { 8: 'DEMO' });
    expect(readingIn([spo2(), monitor]).report?.doubts).toEqual(['test-data']);
  });

  test.each('INV NAV BUSY OFF MSK NI NA OTH NAN PINF NINF'.split(' '))('%s is no value', (flag) => {
    for (const fields of [{ 5: '', 11: 'X' }, {}]) {
      expect(readingsIn([spo2({ 8: flag, ...fields })])).toEqual([]);
      const [unread] = unreadIn([spo2({ 8: flag, ...fields })]);
      expect([unread?.reason, unread?.message]).toEqual([
        'no-value',
        expect.stringContaining(`(${flag})`),
      ]);
    }
  });
});

describe('how a value came about (OBX-17)', () => {
  test.each([
    ['sys', 'oscillometry', 'auscultation'],
    ['pulse', undefined, 'palpation'],
    ['cuffPulse', 'oscillometry', 'palpation'],
    ['breathing', undefined, 'counted'],
    ['ecg', 'electrocardiography', 'electrocardiography'],
    ['spo2', 'pulse-oximetry', 'pulse-oximetry'],
    ['temperature', undefined, undefined],
  ] as const)('%s: by itself %p, by hand %p', (sign, automatic, manual) => {
    const method = (nature: string) =>
      readingIn([row(sign, '1.1.1.1', '98', { 17: nature })]).method;
    expect(method('')).toBe(automatic);
    expect(method('AMEAS^auto-measurement')).toBe(automatic);
    expect(method('MMEAS^manual-measurement')).toBe(manual);
  });

  test.each(['ASET', 'MSET^manual-setting', 'UNSPEC~ASET'])('%s is a setting', (nature) => {
    expect(reportOf({ 17: nature })?.doubts).toEqual(['setting-not-measurement']);
  });

  test.each(['69123^MDC_OBS_CTS^MDC', 'ACALC', 'UNSPEC', 'AUSRFS'])(
    '%s changes nothing',
    (nature) => {
      expect(reportOf({ 17: nature })).toEqual(reportOf({}));
    },
  );
});

describe('where it was measured (OBX-20)', () => {
  const place = (sign: 'sys' | 'temperature' | 'spo2' | 'breathing', sent: string) =>
    readingIn([row(sign, '1.1.1.1', '98', { 20: sent })]);

  test.each([
    ['sys', '460533^MDC_UPEXT_ARM_UPPER_L^MDC', 'upper-arm', 'left'],
    ['sys', '460206^MDC_ART_BRACHIAL_R^MDC', 'brachial-artery', 'right'],
    ['sys', '368208006^^SCT', 'upper-arm', 'left'],
    ['sys', 'RA^^HL70163', undefined, 'right'],
    ['spo2', '460504^MDC_UPEXT_FINGER_INDEX^MDC', 'finger', undefined],
    ['spo2', 'LE^Left Ear^HL70163', 'ear', 'left'],
    ['temperature', '460492^MDC_UPEXT_AXILLA^MDC', 'axillary', undefined],
    ['temperature', '460868^MDC_HEAD_TYMPANIC^MDC', 'tympanic', undefined],
    ['temperature', '460444^MDC_TRUNK_ESOPH^MDC', 'core', undefined],
  ] as const)('%s at %s: %p %p', (sign, sent, site, side) => {
    const reading = place(sign, sent);
    expect([reading.site, reading.side, reading.report?.doubts]).toEqual([site, side, undefined]);
  });

  test.each([
    '460500^MDC_UPEXT_FINGER^MDC',
    '460856^MDC_SKIN^MDC',
    '^big toe',
    '460492^MDC_UPEXT_AXILLA^MDC~460852^MDC_TRUNK_RECTUM^MDC',
    '460492^MDC_UPEXT_WRIST^MDC',
  ])('a temperature at %s is of an unclear place', (sent) => {
    const reading = place('temperature', sent);
    expect(reading.report?.doubts).toEqual(['site-unclear']);
    expect(reading.note).toMatch(/^Body site as sent: /);
  });

  test('a code that tells the place stands against another place', () => {
    const oral = { 3: '188424^MDC_TEMP_ORAL^MDC' };
    const at = (sent: string) =>
      readingIn([row('temperature', '1.1.1.1', '37.1', { ...oral, 20: sent })]);
    expect(at('460292^MDC_HEAD_MOUTH^MDC')).toMatchObject({ site: 'oral' });
    expect(at('460292^MDC_HEAD_MOUTH^MDC').report?.doubts).toBeUndefined();
    expect(at('460852^MDC_TRUNK_RECTUM^MDC').report?.doubts).toEqual(['site-unclear']);
  });

  test('an ear thermometer reads the tympanic membrane', () => {
    const tympanic = { 3: '150392^MDC_TEMP_TYMP^MDC', 20: '460273^MDC_HEAD_EAR_L^MDC' };
    expect(readingIn([row('temperature', '1.1.1.1', '37.1', tympanic)])).toMatchObject({
      site: 'tympanic',
      side: 'left',
    });
  });

  test('a place that a sign does not take is told, and costs nothing', () => {
    const reading = place('breathing', '460472^MDC_TRUNK_THORAX^MDC');
    expect([reading.site, reading.note, reading.report?.doubts]).toEqual([
      undefined,
      'Body site as sent: MDC_TRUNK_THORAX',
      undefined,
    ]);
  });

  test('two sides are no side', () => {
    const reading = place('sys', 'LUA^^HL70163~RUA^^HL70163');
    expect([reading.side, reading.report?.doubts]).toEqual([undefined, ['site-unclear']]);
  });
});

describe('status rows (IEEE 11073-10101)', () => {
  const status = (code: string, path: string, value: string) =>
    obx({ 2: 'CWE', 3: `${code}^^MDC`, 4: path, 5: value, 11: 'R' });
  const both = [spo2(), row('ecg', '1.2.1.1', '81')];
  const signals = (rows: readonly string[]) => readingsIn(rows).map(({ report }) => report?.signal);

  test('a bit that an oximeter sets questions what it measures', () => {
    const bits = status('150604', '1.1.1.9', '0^sensor-disconnected(0)~1^sensor-displaced(2)');
    expect(signals([...both, bits])).toEqual([['questionable'], undefined]);
    expect(unreadIn([...both, bits])).toEqual([]);
  });

  test.each(['0^sensor-displaced(2)', '0', '', '00'])('%p sets none', (value) => {
    expect(signals([...both, status('150604', '1.1.1.9', value)])).toEqual([undefined, undefined]);
  });

  test.each(['32', '^sensor-displaced(2)', '1'])('%p sets one', (value) => {
    expect(signals([...both, status('150604', '1.1.1.9', value)])[0]).toEqual(['questionable']);
  });

  test('of another channel it says nothing', () => {
    expect(
      signals([...both, status('150604', '1.3.1.9', '1^sensor-displaced(2)')])[0],
    ).toBeUndefined();
  });

  test('a cuff status questions its pressures', () => {
    const rows = [row('sys', '1.1.1.1', '124'), status('8410608', '1.1.1.8', '1^body-movement(0)')];
    expect(signals(rows)).toEqual([['questionable']]);
  });

  test.each([
    ['1^questionable(1)', { signal: ['questionable'] }],
    ['1^calibration-ongoing(3)~1^early-indication(9)', { signal: ['calibrating', 'early'] }],
    ['1^demo-data(5)', { doubts: ['test-data'] }],
  ])('a measurement status %s is that of the metric it hangs under', (value, report) => {
    const [reading, other] = readingsIn([...both, status('67911', '1.1.1.1.1', value)]);
    expect(reading?.report).toMatchObject(report);
    expect(other?.report?.signal).toBeUndefined();
  });

  test('an invalid measurement is none', () => {
    const rows = [spo2(), status('67911', '1.1.1.1.1', '1^invalid(0)')];
    expect(readingsIn(rows)).toEqual([]);
    expect(unreadIn(rows)).toMatchObject([{ reason: 'no-value' }]);
  });
});
