import { observationsIn, obr, obx, readingIn, readingsIn, row, unreadIn } from './deliveries.js';
import { PATIENT } from './messages.js';

const doubtsOf = (rows: readonly string[]) =>
  readingsIn(rows).map(({ report }) => report?.doubts ?? []);

describe('the parts of one pressure', () => {
  test('are one reading: same parent, device, time and method', () => {
    expect(
      readingIn([
        row('mean', '1.16.1.3', '93'),
        row('sys', '1.16.1.1', '124'),
        row('dia', '1.16.1.2', '78'),
      ]),
    ).toMatchObject({
      vital: 'blood-pressure',
      method: 'oscillometry',
      systolic: '124',
      diastolic: '78',
      mean: '93',
      unit: 'mm[Hg]',
      report: { at: 'OBX 1, 2, 3', channel: '1.16.1' },
    });
  });

  test('may hang under the compound term of a personal device as facets', () => {
    const head = obx({
      3: '150020^MDC_PRESS_BLD_NONINV^MDC',
      4: '1.0.0.1',
      11: 'R',
      14: '20260301090000+0100',
    });
    const rows = [head, row('sys', '1.0.0.1.1', '124'), row('dia', '1.0.0.1.2', '78')];
    expect(readingIn(rows)).toMatchObject({
      systolic: '124',
      diastolic: '78',
      takenAt: '2026-03-01T09:00:00+01:00',
    });
    expect(unreadIn(rows)).toEqual([]);
  });

  test('may be LOINC under a panel, numbered plainly', () => {
    const part = (code: string, group: string, value: string) =>
      obx({ 2: 'NM', 3: `${code}^^LN`, 4: group, 5: value, 6: 'mm[Hg]^^UCUM', 11: 'F' });
    const rows = [
      obx({ 3: '85354-9^^LN', 4: '1', 11: 'F' }),
      part('8480-6', '1', '124'),
      part('8462-4', '1', '78'),
      part('8480-6', '2', '131'),
      part('8462-4', '2', '82'),
    ];
    expect(readingsIn(rows)).toMatchObject([
      { systolic: '124', diastolic: '78' },
      { systolic: '131', diastolic: '82' },
    ]);
    expect(readingsIn(rows)[0]?.method).toBeUndefined();
  });

  test.each([
    ['channels', row('dia', '1.17.1.2', '78')],
    ['devices', row('dia', '1.16.1.2', '78', { 18: 'CUFF-2^NORTHDEV' })],
    ['times', row('dia', '1.16.1.2', '78', { 14: '20260301101300+0100' })],
    ['methods', row('dia', '1.16.1.2', '78', { 17: 'MMEAS' })],
    ['arms', row('dia', '1.16.1.2', '78', { 20: 'LUA^^HL70163' })],
    ['operators', row('dia', '1.16.1.2', '78', { 16: 'N417^Marsh' })],
  ])('of different %s are two readings', (_, dia) => {
    expect(readingsIn([row('sys', '1.16.1.1', '124'), dia])).toHaveLength(2);
  });

  test('of one moment written in two zones are one', () => {
    const sys = row('sys', '1.16.1.1', '124', { 14: '20260301101000+0100' });
    const dia = row('dia', '1.16.1.2', '78', { 14: '20260301091000+0000' });
    expect(readingIn([sys, dia])).toMatchObject({ systolic: '124', diastolic: '78' });
  });

  test('share what is doubtful in any of them', () => {
    expect(
      doubtsOf([
        row('sys', '1.16.1.1', '124', { 3: '150021^MDC_PRESS_BLD_SYS^MDC' }),
        row('dia', '1.16.1.2', '78', { 11: 'X' }),
      ]),
    ).toEqual([['code-name-mismatch', 'status-unclear']]);
    const [reading] = readingsIn([
      row('sys', '1.16.1.1', '124', { 11: 'F' }),
      row('dia', '1.16.1.2', '78', { 8: 'QUES' }),
    ]);
    expect(reading?.report).toMatchObject({ reviewed: false, signal: ['questionable'] });
  });

  test('one that cannot be read costs itself only', () => {
    const readings = readingsIn([row('sys', '1.16.1.1', '221'), row('dia', '1.16.1.2', '12,4')]);
    expect(readings).toMatchObject([
      { systolic: '221' },
      { report: { doubts: ['value-unreadable'] } },
    ]);
    expect(readings[0]?.report?.doubts).toBeUndefined();
  });

  test('that fit more than one measurement are not paired', () => {
    const readings = readingsIn([
      row('sys', '1.16.1.1', '124'),
      row('sys', '1.16.1.2', '131'),
      row('dia', '1.16.1.3', '78'),
    ]);
    expect(readings.map(({ systolic, diastolic }) => [systolic, diastolic])).toEqual([
      ['124', undefined],
      ['131', undefined],
      [undefined, '78'],
    ]);
    expect(readings.every(({ report }) => report?.doubts?.includes('values-conflict'))).toBe(true);
  });

  test('in two units are not one pressure', () => {
    const kilopascal = row('dia', '1.16.1.2', '10.4', { 6: '265987^MDC_DIM_KILO_PASCAL^MDC' });
    expect(doubtsOf([row('sys', '1.16.1.1', '124'), kilopascal])).toEqual([
      ['codes-disagree'],
      ['codes-disagree'],
    ]);
  });
});

describe('what is no pressure of the catalogue', () => {
  test('pulmonary and venous pressures never become one', () => {
    const rows = [
      obx({ 2: 'NM', 3: '150045^MDC_PRESS_BLD_ART_PULM_SYS^MDC', 4: '1.2.1.1', 5: '28', 11: 'R' }),
      obx({ 2: 'NM', 3: '150087^MDC_PRESS_BLD_VEN_CENT_MEAN^MDC', 4: '1.3.1.1', 5: '9', 11: 'R' }),
    ];
    expect(readingsIn(rows)).toEqual([]);
    expect(unreadIn(rows)).toMatchObject([
      { reason: 'not-a-vital-sign', at: 'OBX 1', value: '28' },
      { reason: 'not-a-vital-sign', at: 'OBX 2', value: '9' },
    ]);
  });

  test('two numbers in one value are never taken apart', () => {
    const panel = obx({ 2: 'ST', 3: '85354-9^^LN', 5: '124/78', 6: 'mm[Hg]^^UCUM', 11: 'F' });
    expect(readingIn([panel])).toMatchObject({
      vital: 'blood-pressure',
      report: { asSent: '124/78', doubts: ['value-unreadable'] },
    });
    expect(doubtsOf([row('sys', '1.1.1.1', '124^78')])).toEqual([['value-unreadable']]);
    expect(doubtsOf([row('sys', '1.1.1.1', '^124^/^78', { 2: 'SN' })])).toEqual([
      ['value-unreadable'],
    ]);
  });
});

test('a panel that is deleted is an amendment, though it has no value', () => {
  const head = obx({ 3: '150020^MDC_PRESS_BLD_NONINV^MDC', 4: '1.0.0.1', 11: 'W' });
  const delivery = observationsIn([PATIENT, obr(), head]);
  expect(delivery.amendments).toMatchObject([
    { kind: 'withdraw', status: 'W', reading: { vital: 'blood-pressure', method: 'oscillometry' } },
  ]);
});
