/** Primitive types of FHIR R4 (4.0.1), and the closed lists of codes that the checked elements have. */

const CODES: Readonly<Record<string, readonly string[]>> = {
  gender: ['male', 'female', 'other', 'unknown'],
  identifierUse: ['usual', 'official', 'temp', 'secondary', 'old'],
  nameUse: ['usual', 'official', 'temp', 'nickname', 'anonymous', 'old', 'maiden'],
  contactSystem: ['phone', 'fax', 'email', 'pager', 'url', 'sms', 'other'],
  contactUse: ['home', 'work', 'temp', 'old', 'mobile'],
  addressUse: ['home', 'work', 'temp', 'old', 'billing'],
  addressType: ['postal', 'physical', 'both'],
  narrativeStatus: ['generated', 'extensions', 'additional', 'empty'],
  observationStatus: [
    'registered',
    'preliminary',
    'final',
    'amended',
    'corrected',
    'cancelled',
    'entered-in-error',
    'unknown',
  ],
  subscriptionStatus: ['requested', 'active', 'error', 'off'],
  subscriptionChannelType: ['rest-hook', 'websocket', 'email', 'sms', 'message'],
  quantityComparator: ['<', '<=', '>=', '>'],
};

const DATE = /^\d{4}(?:-(?:0[1-9]|1[0-2])(?:-(?:0[1-9]|[12]\d|3[01]))?)?$/;
const INSTANT =
  /^\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])T(?:[01]\d|2[0-3]):[0-5]\d:(?:[0-5]\d|60)(?:\.\d{1,9})?(?:Z|[+-](?:0\d|1[0-4]):[0-5]\d)$/;
/** Control characters and halves of surrogate pairs: no text, and no database takes them all. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const UNFIT = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]|\p{Cs}/u;

/** The day stands on the calendar, as far as one is given. */
function isOnCalendar(text: string): boolean {
  const [year = 0, month = 1, day = 1] = text.split('T', 1)[0]?.split('-').map(Number) ?? [];
  const date = new Date(0);
  date.setUTCFullYear(year, month - 1, day);
  return year > 0 && date.getUTCMonth() === month - 1;
}

function isText(value: unknown): value is string {
  return typeof value === 'string' && value.trim() !== '' && !UNFIT.test(value);
}

function matching(pattern: RegExp): (value: unknown) => boolean {
  return (value) => isText(value) && pattern.test(value);
}

/** Whether a JSON value is one of a primitive type (R4 datatypes, regular expressions of each type). */
const PRIMITIVES: Readonly<Record<string, (value: unknown) => boolean>> = {
  boolean: (value) => typeof value === 'boolean',
  integer: (value) => Number.isInteger(value) && Math.abs(Number(value)) < 2 ** 31,
  decimal: (value) => typeof value === 'number' && Number.isFinite(value),
  // What stands there is refused or read elsewhere, whatever its form.
  any: (value) => value !== null,
  unsignedInt: (value) => Number.isInteger(value) && Number(value) >= 0 && Number(value) < 2 ** 31,
  positiveInt: (value) => Number.isInteger(value) && Number(value) > 0 && Number(value) < 2 ** 31,
  string: isText,
  // A bar ends the system in a token of a search: none is allowed in a URI (RFC 3986).
  uri: matching(/^[^\s|]+$/),
  canonical: matching(/^\S+$/),
  code: matching(/^\S+(?: \S+)*$/),
  id: matching(/^[A-Za-z0-9.-]{1,64}$/),
  date: (value) => isText(value) && DATE.test(value) && isOnCalendar(value),
  instant: (value) => isText(value) && INSTANT.test(value) && isOnCalendar(value),
  dateTime: (value) =>
    isText(value) && (DATE.test(value) || INSTANT.test(value)) && isOnCalendar(value),
};

/** Undefined: the type is not a primitive one. */
export function primitiveCheck(type: string): ((value: unknown) => boolean) | undefined {
  const codes = CODES[type];
  return codes === undefined
    ? PRIMITIVES[type]
    : (value) => typeof value === 'string' && codes.includes(value);
}
