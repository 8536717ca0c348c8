/**
 * Check digits of the two code systems whose identifiers have one: a mistyped code fails them.
 * LOINC: mod 10 (LOINC Users' Guide, appendix "Calculating Mod 10 Check Digits"). SNOMED CT: Verhoeff's
 * dihedral check (SNOMED CT Release File Specifications, "Check-digit"). The algorithms are public; the
 * tables below are those of Verhoeff 1969, from memory, proved by the published identifiers in the tests.
 */

/** Whether the digit after the hyphen is the one that the number before it asks for. */
export function loincCheckDigitFits(code: string): boolean {
  const [number = '', check = ''] = code.split('-');
  const doubled = Array.from(number)
    .reverse()
    .map((digit, place) => Number(digit) * (place % 2 === 0 ? 2 : 1))
    .map((product) => (product > 9 ? product - 9 : product));
  const sum = doubled.reduce((total, digit) => total + digit, 0);
  return (10 - (sum % 10)) % 10 === Number(check);
}

const PERMUTATION = [1, 5, 7, 6, 2, 8, 3, 0, 9, 4];

/** Multiplication of the dihedral group of the pentagon: 0-4 turns, 5-9 turns of the mirrored one. */
function times(a: number, b: number): number {
  if (a < 5) return b < 5 ? (a + b) % 5 : 5 + ((a + b - 5) % 5);
  return b < 5 ? 5 + ((a - 5 - b + 5) % 5) : (a - b + 5) % 5;
}

/** Whether the last digit of the identifier is the one that the others ask for. */
export function snomedCheckDigitFits(identifier: string): boolean {
  const product = Array.from(identifier)
    .reverse()
    .reduce((total, text, place) => {
      let digit = Number(text);
      for (let turn = 0; turn < place % 8; turn += 1) digit = PERMUTATION[digit] ?? 0;
      return times(total, digit);
    }, 0);
  return product === 0;
}
