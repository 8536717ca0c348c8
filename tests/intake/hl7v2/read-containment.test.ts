import { readPath } from '../../../src/intake/hl7v2/containment.js';
import { deviceRow, observationsIn, obr, readingIn, readingsIn, row } from './deliveries.js';
import { PATIENT } from './messages.js';

const MONITOR = 'MON-12^^0A1B2CFFFE000012^EUI-64';
const MODULE = 'NIBP-7^NORTHDEV';
const EUI64 = 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680';
const monitor = { system: EUI64, value: '0A-1B-2C-FF-FE-00-00-12' };

describe('paths (IHE Devices TF-2 App. A and B.8)', () => {
  test.each([
    ['1.16.1.2', '1.16.1.2', ['1.16.1', '1.16', '1'], false],
    ['1.16.1.0', '1.16.1', ['1.16', '1'], true],
    ['1.0.0.0', '1', [], true],
    ['1.0.0.7', '1.0.0.7', ['1'], false],
    ['1.1.1.5.2', '1.1.1.5.2', ['1.1.1.5', '1.1.1', '1.1', '1'], false],
    ['1.1.1.150456', '1.1.1.150456', ['1.1.1', '1.1', '1'], false],
    ['01.016.1.2', '1.16.1.2', ['1.16.1', '1.16', '1'], false],
    ['3', '3', [], false],
    ['0', '', [], false],
    ['', '', [], false],
    ['A.1', '', [], false],
    ['1..2', '', [], false],
    ['1.2.3.4.5.6.7.8.9.10.11', '', [], false],
    [`1.${'9'.repeat(11)}`, '', [], false],
  ])('%p', (text, key, containers, isDevice) => {
    expect(readPath(text)).toEqual({ text, key, containers, isDevice });
  });
});

describe('what contains a row tells about it', () => {
  const rows = [
    row('sys', '1.16.1.1', '124'),
    deviceRow('CHAN', '1.16.1.0', { 14: '20260301094500+0100' }),
    deviceRow('VMD', '1.16.0.0', { 18: MODULE }),
    deviceRow('MDS', '1.0.0.0', { 18: MONITOR, 14: '20260301101000+0100' }),
  ];

  test('time, equipment and place come from the nearest', () => {
    expect(readingIn(rows)).toMatchObject({
      takenAt: '2026-03-01T09:45:00+01:00',
      device: { identifier: { system: 'urn:v2:NORTHDEV', value: 'NIBP-7' }, within: [monitor] },
    });
  });

  test('its own words come first', () => {
    const own = row('sys', '1.16.1.1', '124', {
      14: '20260301090000+0100',
      18: '^^0A1B2CFFFE0000AA^EUI-64',
      20: '460533^MDC_UPEXT_ARM_UPPER_L^MDC',
    });
    const [, ...devices] = rows;
    expect(readingIn([own, ...devices])).toMatchObject({
      takenAt: '2026-03-01T09:00:00+01:00',
      device: { identifier: { value: '0A-1B-2C-FF-FE-00-00-AA' } },
      site: 'upper-arm',
      side: 'left',
    });
  });

  test('a place is inherited', () => {
    const [sys = '', ...devices] = rows;
    const cuff = deviceRow('CHAN', '1.16.1.0', { 20: 'RUA^^HL70163' });
    expect(readingIn([sys, cuff, ...devices.slice(1)])).toMatchObject({
      site: 'upper-arm',
      side: 'right',
    });
  });

  test('what is of another branch, or of another order, is not taken', () => {
    const other = deviceRow('VMD', '1.17.0.0', { 18: MODULE, 14: '20260301080000+0100' });
    expect(readingIn([row('sys', '1.16.1.1', '124'), other])).toMatchObject({
      takenAt: '2026-03-01T10:14:00+01:00',
    });
    const { sets } = observationsIn([
      PATIENT,
      obr(),
      deviceRow('MDS', '1.0.0.0', { 18: MONITOR }),
      row('sys', '1.16.1.1', '124'),
      obr(),
      row('sys', '1.16.1.1', '131'),
    ]);
    expect(sets[0]?.readings.map(({ device }) => device?.identifier)).toEqual([monitor, undefined]);
  });

  test('one that says two things says nothing', () => {
    const twice = [
      deviceRow('MDS', '1.0.0.0', { 18: MONITOR }),
      deviceRow('MDS', '1.0.0.0', { 18: '^^0A1B2CFFFE000013^EUI-64' }),
    ];
    expect(readingIn([row('spo2', '1.1.1.1', '97'), ...twice]).device).toBeUndefined();
  });

  test('paths are compared as numbers', () => {
    const monitorRow = deviceRow('MDS', '01.0.0.0', { 18: MONITOR });
    expect(readingIn([row('spo2', '1.1.1.1', '97'), monitorRow]).device?.identifier).toEqual(
      monitor,
    );
  });

  test('without any of these a PRT of the order tells the equipment (HL7 v2.9.1 §7.4.4)', () => {
    const equipment = `PRT|1|UC||EQUIP^EQUIP^HL70912||||||${MONITOR}`;
    const { sets } = observationsIn([PATIENT, obr(), equipment, row('spo2', '1.1.1.1', '97')]);
    expect(sets[0]?.readings[0]?.device?.identifier).toEqual(monitor);
  });
});

describe('the same code twice', () => {
  test('at two paths is two readings', () => {
    const probes = readingsIn([
      row('temperature', '1.3.1.1', '37.1'),
      row('temperature', '1.3.2.1', '36.2'),
    ]);
    expect(probes).toMatchObject([
      { value: '37.1', report: { channel: '1.3.1.1' } },
      { value: '36.2', report: { channel: '1.3.2.1' } },
    ]);
    expect(probes.flatMap(({ report }) => report?.doubts ?? [])).toEqual([]);
  });

  test.each([['1.3.1.1'], ['']])('at one path %p with two values is a doubt of both', (path) => {
    const readings = readingsIn([
      row('temperature', path, '37.1'),
      row('temperature', path, '36.2'),
    ]);
    expect(readings.map(({ value, report }) => [value, report?.doubts])).toEqual([
      ['37.1', ['values-conflict']],
      ['36.2', ['values-conflict']],
    ]);
  });

  test('at one path with one value is one reading, with what either row doubts', () => {
    const again = row('temperature', '1.3.1.1', '37.10', { 8: 'QUES', 11: 'F' });
    expect(readingIn([row('temperature', '1.3.1.1', '37.1'), again])).toMatchObject({
      index: 0,
      report: { signal: ['questionable'], reviewed: false },
    });
  });

  test('at one path at two times of their own is two readings', () => {
    const readings = readingsIn([
      row('temperature', '1.3.1.1', '37.1', { 14: '20260301100000+0100' }),
      row('temperature', '1.3.1.1', '36.2', { 14: '20260301101000+0100' }),
    ]);
    expect(readings.flatMap(({ report }) => report?.doubts ?? [])).toEqual([]);
    expect(readings).toHaveLength(2);
  });

  test('rates of two methods at no path are two readings', () => {
    expect(readingsIn([row('ecg', '', '81'), row('cuffPulse', '', '78')])).toMatchObject([
      { method: 'electrocardiography' },
      { method: 'oscillometry' },
    ]);
  });
});
