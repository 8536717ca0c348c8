/** Forms of search parameters, the same in an address (all text) and in a JSON body. */
import { z } from 'zod';
import type { Identifier } from '../../vitals/shapes.js';

const MAX_TEXT = 300;
// PostgreSQL takes no NUL in a text, and nothing searched for has a control character.
// eslint-disable-next-line no-control-regex -- control characters are what it is about
const CONTROL = /[\u0000-\u001f\u007f]/;

const split = (value: unknown): unknown =>
  (Array.isArray(value) ? value : [value]).flatMap((one: unknown) =>
    typeof one === 'string' ? one.split(',') : [one],
  );

/** One or more of the words: repeated, joined by commas, or a list. */
export function words<const W extends readonly string[]>(list: W): z.ZodType<W[number][]> {
  const message = `must be one of ${list.join(', ')}, or some of them joined by commas`;
  return z.preprocess(split, z.array(z.enum(list, message)).min(1));
}

export function word<const W extends readonly string[]>(list: W): z.ZodType<W[number]> {
  return z.enum(list, `must be one of ${list.join(', ')}`);
}

export const text = z
  .string('must be given once')
  .min(1, 'must not be empty')
  .max(MAX_TEXT, `must not be longer than ${MAX_TEXT} characters`)
  .refine((value) => !CONTROL.test(value), 'must not have control characters');

/** Whether a text can be searched for. */
export function isSearchText(value: string): boolean {
  return text.safeParse(value).success;
}

export const flag: z.ZodType<boolean> = z.preprocess(
  (value) => (value === 'true' ? true : value === 'false' ? false : value),
  z.boolean('must be true or false'),
);

/** A whole number from `min` to `max`. */
export function whole(min: number, max: number): z.ZodType<number> {
  const message = `must be a whole number from ${min} to ${max}`;
  return z.preprocess(
    (value) => (typeof value === 'string' && /^\d{1,9}$/.test(value) ? Number(value) : value),
    z.int(message).min(min, message).max(max, message),
  );
}

/** RFC 3339, in ms since the epoch. */
export const instant = z
  .string('must be given once')
  .superRefine((value, context) => {
    if (z.iso.datetime({ offset: true }).safeParse(value).success) return;
    const lostPlus = /\s\d{2}:\d{2}$/.test(value);
    context.addIssue(
      lostPlus
        ? 'has lost the + of its offset: in an address it is written %2B'
        : 'must be an RFC 3339 time with an offset, such as 2026-03-01T07:15:00Z',
    );
  })
  .transform((value) => Date.parse(value));

const pair = z.strictObject({ system: text, value: text });

/** `{ system, value }`, or `system|value`. */
export const identifier: z.ZodType<Identifier> = z.preprocess(
  (value) => {
    if (typeof value !== 'string') return value;
    const bar = value.indexOf('|');
    return bar < 0 ? value : { system: value.slice(0, bar), value: value.slice(bar + 1) };
  },
  z.custom((value) => pair.safeParse(value).success, 'must be system|value').pipe(pair),
);

const STATUS_MESSAGE = 'must be HTTP statuses joined by commas, such as 400,409';

/** HTTP statuses, one or more. */
export const statuses: z.ZodType<number[]> = z.preprocess(
  split,
  z
    .array(
      z
        .string()
        .regex(/^[1-5]\d\d$/, STATUS_MESSAGE)
        .transform(Number),
    )
    .min(1),
);
