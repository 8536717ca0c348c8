import type { Separators } from './separators.js';

/** What is to be done with the sequences that not every field may have. */
export interface EscapeOptions {
  /** In data types TX, FT and CF: `\.br\` is a new line, `\H\` and `\N\` (highlighting) vanish. */
  readonly formatted: boolean;
  /** `\X..\` becomes the bytes that it names. */
  readonly hexadecimal: boolean;
}

const HEXADECIMAL = /^X((?:[0-9A-Fa-f]{2})+)$/;

/**
 * Decodes escape sequences (HL7 v2.9.1 §2.6), once and from left to right, in a text that has been
 * split already: what comes out is data and never a separator. Unknown and unclosed sequences stay
 * as they are.
 */
export function decodeEscapes(
  text: string,
  separators: Separators,
  options: EscapeOptions,
): string {
  const { escape } = separators;
  let from = 0;
  let open = text.indexOf(escape);
  if (open < 0) return text;
  let decoded = '';
  while (open >= 0) {
    const close = text.indexOf(escape, open + 1);
    if (close < 0) break;
    const meaning = meaningOf(text.slice(open + 1, close), separators, options);
    decoded += text.slice(from, open) + (meaning ?? text.slice(open, close + 1));
    from = close + 1;
    open = text.indexOf(escape, from);
  }
  return decoded + text.slice(from);
}

function meaningOf(code: string, separators: Separators, options: EscapeOptions): string | null {
  switch (code) {
    case 'F':
      return separators.field;
    case 'S':
      return separators.component;
    case 'T':
      return separators.subcomponent;
    case 'R':
      return separators.repetition;
    case 'E':
      return separators.escape;
    case 'P':
      return separators.truncation;
    case '.br':
      return options.formatted ? '\n' : null;
    case 'H':
    case 'N':
      return options.formatted ? '' : null;
    default:
      return options.hexadecimal ? bytesOf(code) : null;
  }
}

function bytesOf(code: string): string | null {
  const digits = HEXADECIMAL.exec(code)?.[1];
  return digits === undefined ? null : Buffer.from(digits, 'hex').toString('latin1');
}

/**
 * Writes text so that it can stand in a field of these separators. Line ends and other control
 * characters become `\X..\`, because a bare carriage return would end the segment.
 */
export function encodeEscapes(text: string, separators: Separators): string {
  const { escape } = separators;
  const codes = new Map([
    [separators.field, 'F'],
    [separators.component, 'S'],
    [separators.subcomponent, 'T'],
    [separators.repetition, 'R'],
    [escape, 'E'],
  ]);
  if (separators.truncation !== null) codes.set(separators.truncation, 'P');
  return Array.from(text, (sign) => {
    const code = codes.get(sign) ?? controlCode(sign);
    return code === null ? sign : escape + code + escape;
  }).join('');
}

function controlCode(sign: string): string | null {
  if (sign >= ' ' && sign !== '\x7f') return null;
  return `X${sign.charCodeAt(0).toString(16).toUpperCase().padStart(2, '0')}`;
}
