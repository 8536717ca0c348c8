import type { Identifier } from '../../vitals/shapes.js';
import { asObject } from './sent-entry.js';

/** As in a set: an absolute URI (RFC 3986 §4.3) and a value, without a bar in the one or space around the other. */
const SYSTEM = /^[A-Za-z][A-Za-z0-9+.-]*:[!#-;=?-[\]_a-z~]+$/;
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const UNFIT = /[\u0000-\u001f\u007f-\u009f\ufffe\uffff]|\p{Cs}/u;
const MAX_LENGTH = 200;

export const IDENTIFIER_RULE =
  'an identifier with an absolute URI as its system and a value, at most 200 characters each';

export function isIdentifierValue(value: unknown): value is string {
  return (
    typeof value === 'string' &&
    value !== '' &&
    value.length <= MAX_LENGTH &&
    value.trim() === value &&
    !UNFIT.test(value)
  );
}

/** An identifier that can be kept; null: it cannot. */
export function readIdentifier(sent: unknown): Identifier | null {
  const { system, value } = asObject(sent);
  const fit = typeof system === 'string' && system.length <= MAX_LENGTH && SYSTEM.test(system);
  return fit && isIdentifierValue(value) ? { system, value } : null;
}
