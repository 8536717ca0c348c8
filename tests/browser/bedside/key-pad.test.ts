import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import {
  KEYS,
  pressKey,
  readTyped,
  writtenNumber,
  type Digits,
  type Key,
} from '../../../src/browser/bedside/form/key-pad.js';

const schema = JSON.parse(readFileSync('schemas/reading.schema.json', 'utf8')) as {
  $defs: { number: { pattern: string } };
};
const PATTERN = new RegExp(schema.$defs.number.pattern);
const PRESSURE: Digits = { whole: 3, decimals: 0 };
const TEMPERATURE: Digits = { whole: 3, decimals: 2 };

function pressed(keys: string, digits: Digits): string {
  const named: Partial<Record<string, Key>> = { '.': 'point', '<': 'back' };
  return Array.from(keys).reduce(
    (text, key) => pressKey(text, named[key] ?? (key as Key), digits),
    '',
  );
}

describe('large keys', () => {
  it.each([
    ['132', PRESSURE, '132'],
    ['1325', PRESSURE, '132'],
    ['13.2', PRESSURE, '132'],
    ['0132', PRESSURE, '132'],
    ['37.0', TEMPERATURE, '37.0'],
    ['.5', TEMPERATURE, '0.5'],
    ['3..7', TEMPERATURE, '3.7'],
    ['36.789', TEMPERATURE, '36.78'],
    ['99<8<<', PRESSURE, ''],
    ['12<<3', PRESSURE, '3'],
  ])('%s gives %3$s', (keys, digits, text) => {
    expect(pressed(keys, digits)).toBe(text);
  });

  it('never make anything but a number that the contract takes', () => {
    const digits = fc.record({
      whole: fc.integer({ min: 1, max: 6 }),
      decimals: fc.integer({ min: 0, max: 3 }),
    });
    fc.assert(
      fc.property(fc.array(fc.constantFrom(...KEYS), { maxLength: 30 }), digits, (keys, shape) => {
        const number = writtenNumber(keys.reduce((text, key) => pressKey(text, key, shape), ''));
        if (typeof number === 'string') expect(number).toMatch(PATTERN);
        if (typeof number === 'number') expect(Math.abs(number)).toBeLessThan(1_000_000);
      }),
    );
  });
});

describe('what a keyboard types', () => {
  it.each([
    ['36,9', '36.9'],
    [' 37 ', '37'],
    ['-5', '5'],
    ['1e3', '13'],
    ['36.9°C', '36.9'],
  ])('%s is read as %s', (typed, text) => {
    expect(readTyped(typed, TEMPERATURE)).toBe(text);
  });

  it('is read again as the same', () => {
    fc.assert(
      fc.property(fc.string(), (typed) => {
        const once = readTyped(typed, TEMPERATURE);
        expect(readTyped(once, TEMPERATURE)).toBe(once);
      }),
    );
  });
});

describe('the number that is sent', () => {
  it.each([
    ['', null],
    ['132', 132],
    ['0', 0],
    ['36.9', 36.9],
    ['36.', 36],
    ['37.0', '37.0'],
    ['36.50', '36.50'],
  ])('of %j is %j: noughts at the end are kept', (text, number) => {
    expect(writtenNumber(text)).toBe(number);
  });
});
