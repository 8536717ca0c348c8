import fc from 'fast-check';
import { fhirDecimal, toFhirJson } from '../../../src/serve/fhir/fhir-json.js';

/** Decimal texts as FHIR R4 writes them: no leading zeros, trailing zeros kept. */
const decimalTexts = fc
  .tuple(
    fc.constantFrom('', '-'),
    fc.bigInt({ min: 0n, max: 10n ** 18n }),
    fc.option(fc.stringMatching(/^[0-9]{1,20}$/), { nil: undefined }),
    fc.constantFrom('', 'e5', 'E-3'),
  )
  .map(
    ([sign, whole, fraction, exponent]) =>
      `${sign}${String(whole)}${fraction === undefined ? '' : `.${fraction}`}${exponent}`,
  );

describe('toFhirJson', () => {
  // FHIR R4 datatypes, `decimal`: the precision, trailing zeros included, is part of the value.
  it.each([
    '36.50',
    '37.0',
    '120',
    '0.50',
    '-0.0',
    '0.10000000000000000001',
    '100000000000000000000',
  ])('writes %s digit for digit', (text) => {
    expect(toFhirJson({ value: fhirDecimal(text) })).toBe(`{"value":${text}}`);
  });

  it('writes any decimal digit for digit, anywhere in a resource, and leaves text alone', () => {
    fc.assert(
      fc.property(
        fc.array(fc.tuple(decimalTexts, fc.string({ unit: 'binary' })), { minLength: 1 }),
        (pairs) => {
          const written = toFhirJson(
            pairs.map(([text, note]) => ({ value: fhirDecimal(text), note })),
          );
          const expected = pairs.map(
            ([text, note]) => `{"value":${text},"note":${JSON.stringify(note)}}`,
          );
          expect(written).toBe(`[${expected.join()}]`);
        },
      ),
    );
  });

  it('keeps text that imitates a marked decimal as the text it is', () => {
    const mark = JSON.stringify({ value: fhirDecimal('36.50') });
    const imitations = [
      mark,
      mark.slice('{"value":'.length, -1),
      JSON.stringify(mark),
      JSON.parse(mark.slice('{"value":'.length, -1)) as object,
    ].map((one) => (typeof one === 'string' ? one : (Object.keys(one)[0] ?? '')));
    const resource = { value: fhirDecimal('36.50'), note: imitations };
    const written = toFhirJson(resource);
    expect(JSON.parse(written)).toEqual({ value: 36.5, note: imitations });
    expect(written.startsWith('{"value":36.50,')).toBe(true);
  });

  it('is plain JSON where no decimal needs its digits kept', () => {
    const resource = { a: [1, 2.5, 'x'], b: { c: null } };
    expect(toFhirJson(resource)).toBe(JSON.stringify(resource));
  });
});

describe('fhirDecimal', () => {
  it('still compares and adds like a number', () => {
    expect(fhirDecimal('36.50') + 1).toBe(37.5);
    expect(fhirDecimal('36.50') > 36).toBe(true);
  });

  it.each(['', 'NaN', 'Infinity', '-', '.5', '5.', '+5', '007', '1,5', '0x10', ' 5', '5\n'])(
    'refuses %j, which is no JSON number',
    (text) => {
      expect(() => fhirDecimal(text)).toThrow(RangeError);
    },
  );
});
