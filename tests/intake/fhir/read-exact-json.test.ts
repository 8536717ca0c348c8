import fc from 'fast-check';
import { readExactJson } from '../../../src/intake/fhir/read-exact-json.js';

function read(text: string): ReturnType<typeof readExactJson> {
  return readExactJson(Buffer.from(text));
}

it('keeps the digits of every number, wherever it stands', () => {
  const number = fc
    .tuple(fc.integer({ min: -99_999, max: 99_999 }), fc.stringMatching(/^\d{0,6}$/))
    .map(([whole, places]) => (places === '' ? String(whole) : `${whole}.${places}`));
  fc.assert(
    fc.property(fc.array(number), fc.string(), (numbers, text) => {
      const list = numbers.map((one) => `{"value":${one},"text":${JSON.stringify(text)}}`);
      const answer = read(`{"all":[${list.join(',')}]}`);
      if (!answer.ok) throw new Error(answer.message);
      const { all } = answer.json.value as { all: { value: number; text: string }[] };
      expect(all.map((one) => answer.json.digits.textOf(one, 'value'))).toEqual(numbers);
      expect(all.map((one) => one.value)).toEqual(numbers.map(Number));
    }),
  );
});

it('takes no text for a number', () => {
  const answer = read('{"a":"1.50","b":1.50,"c":"\\u00012.50"}');
  if (!answer.ok) throw new Error(answer.message);
  const value = answer.json.value as { a: unknown; b: unknown; c: unknown };
  expect([value.a, value.b]).toEqual(['1.50', 1.5]);
  expect(typeof value.c).toBe('string');
});

it.each(['', '{', '{"a":1,"a":2}', `${'['.repeat(40)}${']'.repeat(40)}`])('refuses %j', (text) => {
  expect(read(text).ok).toBe(false);
});
