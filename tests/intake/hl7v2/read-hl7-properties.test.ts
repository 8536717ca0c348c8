import fc from 'fast-check';
import type { ObservationDelivery } from '../../../src/intake/hl7v2/delivery.js';
import { parseMessage } from '../../../src/intake/hl7v2/parse-message.js';
import { readHl7 } from '../../../src/intake/hl7v2/read-hl7.js';
import { deviceRow, obr, observationsIn, obx, PROFILE, row } from './deliveries.js';
import { headerOf, messageOf, PATIENT } from './messages.js';

const PROFILES = [
  PROFILE,
  { ...PROFILE, attended: true, zone: 'Europe/Vienna', defaultAuthority: 'urn:example:house' },
  { ...PROFILE, zone: 'Nowhere/At all' },
];

/** Texts that stand in fields, and texts that should not. */
const piece = fc.oneof(
  fc.constantFrom(
    ...'R F X C D U P 97 37.2 1.1.1.1 1.0.0.0 20260301101400 20260301101400+0100 Y EQUIP AUT'.split(
      ' ',
    ),
    ...'150456^MDC_PULS_OXIM_SAT_O2^MDC 150021^^MDC 150020^^MDC 67975^^MDC 68487^^MDC'.split(' '),
    ...'150604^^MDC 69136^^MDC 198332^^MDC 8480-6^^LN 262688^^MDC 266016^^MDC %^%^UCUM'.split(' '),
    ...'WB-7710^^^NORTHMRN^MR MON-12^^0A1B2CFFFE000012^EUI-64 NM SN CWE DTM QUES~TEST INV'.split(
      ' ',
    ),
    '""',
    '<^70',
    '1^a(2)~0^b(3)',
  ),
  fc.string({ maxLength: 12 }),
  fc.constant(''),
);
const segment = fc
  .tuple(
    fc.constantFrom('PID', 'PV1', 'OBR', 'OBX', 'OBX', 'OBX', 'PRT', 'EVN', 'MRG', 'NTE', 'ZZZ'),
    fc.array(piece, { maxLength: 22 }),
  )
  .map(([id, fields]) =>
    [id, ...fields.map((field) => field.replaceAll(/[\r\n|]/g, ''))].join('|'),
  );
const header = fc.record({
  9: fc.constantFrom('ORU^R01^ORU_R01', 'ADT^A01', 'ADT^A40', 'ADT^A08', 'ORU^R01'),
  11: fc.constantFrom('P', 'D', 'T'),
  21: fc.constantFrom('', '^^1.3.6.1.4.1.19376.1.6.1.51.1'),
});

describe('whatever a message holds', () => {
  test('it is read without throwing', () => {
    fc.assert(
      fc.property(
        header,
        fc.array(segment, { maxLength: 12 }),
        fc.constantFrom(...PROFILES),
        (msh, segments, profile) => {
          const delivery = readHl7(parseMessage(messageOf(headerOf(msh), ...segments)), profile);
          expect(JSON.stringify(delivery).length).toBeGreaterThan(0);
        },
      ),
      { numRuns: 250 },
    );
  });

  test('bytes that are no message are read without throwing', () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), fc.boolean(), (bytes, asMessage) => {
        const all = asMessage ? Buffer.concat([Buffer.from('MSH|^~\\&|'), bytes]) : bytes;
        expect(readHl7(parseMessage(all), PROFILE)).toHaveProperty('kind');
      }),
      { numRuns: 300 },
    );
  });
});

/** Rows of one order that are all different, so that each can be told after they were shuffled. */
const rowsOfOrder = fc
  .record({
    temperatures: fc.array(fc.integer({ min: 300, max: 420 }), { maxLength: 3 }),
    pressures: fc.array(
      fc.tuple(fc.integer({ min: 60, max: 250 }), fc.integer({ min: 30, max: 140 })),
      {
        maxLength: 3,
      },
    ),
    twice: fc.boolean(),
    device: fc.boolean(),
  })
  .map(({ temperatures, pressures, twice, device }) => [
    deviceRow('MDS', '1.0.0.0', device ? { 18: 'MON-12^WEST' } : {}),
    deviceRow('CHAN', '1.2.1.0', { 14: '20260301100000+0100', 20: 'LUA^^HL70163' }),
    ...temperatures.map((tenths, at) => row('temperature', `1.1.${at + 1}.1`, String(tenths / 10))),
    ...pressures.flatMap(([sys, dia], at) => [
      row('sys', `1.2.${at + 1}.1`, String(sys)),
      row('dia', `1.2.${at + 1}.2`, String(dia), { 8: at === 0 ? 'QUES' : '' }),
      row('mean', `1.2.${at + 1}.3`, String(dia + 10), { 11: at === 1 ? 'X' : 'R' }),
    ]),
    ...(twice ? [row('spo2', '1.3.1.1', '97'), row('spo2', '1.3.1.1', '91')] : []),
    obx({ 2: 'NM', 3: '9^Glow^99NORTH', 4: '1.4.1.1', 5: '4', 11: 'R' }),
    obx({ 2: 'CWE', 3: '150604^^MDC', 4: '1.3.1.9', 5: '1^sensor-displaced(2)', 11: 'R' }),
  ]);

/** What was read, without the places of the rows in the message. */
function contentOf({ sets }: ObservationDelivery) {
  return sets.map(({ readings, unread = [], ...set }) => ({
    ...set,
    readings: readings
      .map((reading) =>
        JSON.stringify({ ...reading, index: 0, report: { ...reading.report, at: '' } }),
      )
      .sort(),
    unread: unread.map(({ reason, code }) => ({ reason, code })),
  }));
}

test('the order of the rows of an order plays no part', () => {
  const shuffled = rowsOfOrder.chain((rows) =>
    fc.tuple(
      fc.constant(rows),
      fc.shuffledSubarray(rows, { minLength: rows.length, maxLength: rows.length }),
    ),
  );
  fc.assert(
    fc.property(shuffled, ([rows, others]) => {
      const read = (all: readonly string[]) => contentOf(observationsIn([PATIENT, obr(), ...all]));
      expect(read(others)).toEqual(read(rows));
    }),
    { numRuns: 150 },
  );
});

test('no row of one patient is ever in the set of another, and each has a place of its own', () => {
  // Each value names the patient it stands under: 100 for the first, 200 for the second...
  const group = fc.array(
    fc.record({
      named: fc.boolean(),
      rows: fc.array(fc.constantFrom('spo2', 'sys', 'dia', 'breathing'), { maxLength: 6 }),
      paths: fc.boolean(),
    }),
    { maxLength: 6 },
  );
  fc.assert(
    fc.property(group, (groups) => {
      const segments = groups.flatMap(({ named, rows, paths }, at) => [
        named ? `PID|||P${at}^^^NORTHMRN^MR` : 'PID|',
        obr(),
        ...rows.map((sign, place) =>
          row(sign as 'spo2', paths ? `1.1.1.${place + 1}` : '', String((at + 1) * 100 + place)),
        ),
      ]);
      const { sets } = observationsIn(segments);
      const places = sets.flatMap(({ readings }) => readings.map(({ index }) => index));
      expect(new Set(places).size).toBe(places.length);
      for (const { patient, readings } of sets) {
        for (const { value, systolic, diastolic } of readings) {
          for (const number of [value, systolic, diastolic]) {
            if (number === undefined) continue;
            const at = Math.floor(Number(number) / 100) - 1;
            expect(patient?.identifier.value).toBe(
              groups[at]?.named === true ? `P${at}` : undefined,
            );
          }
        }
      }
      const rows = groups.reduce((sum, one) => sum + one.rows.length, 0);
      const kept = sets.flatMap(({ readings }) =>
        readings.flatMap(({ value, systolic, diastolic }) =>
          [value, systolic, diastolic].filter((number) => number !== undefined),
        ),
      );
      expect(kept).toHaveLength(rows);
    }),
    { numRuns: 200 },
  );
});

test('a message as long as a frame may be is read, and all of it', () => {
  const rows = Array.from({ length: 10_000 }, (_, at) =>
    row('spo2', `1.1.1.${at + 1}`, String(at % 101), { 18: `OX-${at % 50}^WEST` }),
  );
  const same = Array.from({ length: 5_000 }, (_, at) => row('spo2', '1.1.1.1', String(at)));
  expect(observationsIn([PATIENT, obr(), ...rows]).sets[0]?.readings).toHaveLength(10_000);
  expect(observationsIn([PATIENT, obr(), ...same]).sets[0]?.readings).toHaveLength(5_000);
});
