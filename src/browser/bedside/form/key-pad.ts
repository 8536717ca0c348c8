/** Typing a number by large keys, or by a keyboard: the text is always the beginning of a number. */

export const KEYS = ['1', '2', '3', '4', '5', '6', '7', '8', '9', 'point', '0', 'back'] as const;
export type Key = (typeof KEYS)[number];

/** How many digits a number can have before and after the point. */
export interface Digits {
  readonly whole: number;
  readonly decimals: number;
}

/** The text after a key; unchanged where the key makes no number. */
export function pressKey(text: string, key: Key, digits: Digits): string {
  if (key === 'back') return text.slice(0, -1);
  const next = key === 'point' ? withPoint(text) : withDigit(text, key);
  return fits(next, digits) ? next : text;
}

function withPoint(text: string): string {
  return text === '' ? '0.' : `${text}.`;
}

/** A nought alone gives way: nobody means 037. */
function withDigit(text: string, digit: string): string {
  return text === '0' ? digit : text + digit;
}

function fits(text: string, { whole, decimals }: Digits): boolean {
  const [before = '', after, ...more] = text.split('.');
  if (more.length > 0 || before.length > whole) return false;
  return after === undefined || (decimals > 0 && after.length <= decimals);
}

/** What a keyboard or a paste has made of the text; a comma counts as the point. */
export function readTyped(typed: string, digits: Digits): string {
  let text = '';
  for (const sign of typed.replaceAll(',', '.')) {
    if (sign === '.') text = pressKey(text, 'point', digits);
    else if (/\d/.test(sign)) text = pressKey(text, sign as Key, digits);
  }
  return text;
}

/** The number as it is sent: noughts at the end are kept as text. Null: nothing typed. */
export function writtenNumber(text: string): number | string | null {
  const whole = text.endsWith('.') ? text.slice(0, -1) : text;
  if (whole === '') return null;
  return String(Number(whole)) === whole ? Number(whole) : whole;
}
