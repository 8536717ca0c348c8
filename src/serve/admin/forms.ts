/** Forms of what is registered: texts and identifiers as the published contract has them. */
import { z } from 'zod';
import { PUBLISHED_SCHEMAS } from '../../contract/compile.js';
import { SENTENCES } from '../../contract/fault-words.js';
import { isTimeZone } from '../../vitals/time-zone.js';

interface Definition {
  readonly pattern: string;
  readonly maxLength?: number;
}

/** What is said of a member that is missing, or of another type. */
export function said(words: string): { error: (issue: { readonly input?: unknown }) => string } {
  return { error: ({ input }) => (input === undefined ? 'is missing' : words) };
}

/** A text by its definition in the published schema of a reading, with the words that go with it. */
function defined(name: string, max: number): z.ZodString {
  const definitions = PUBLISHED_SCHEMAS.reading.$defs as Readonly<Record<string, Definition>>;
  const { pattern = '', maxLength = max } = definitions[name] ?? {};
  return z
    .string(said('must be text'))
    .max(maxLength, `must not be longer than ${maxLength} characters`)
    .regex(new RegExp(pattern, 'u'), SENTENCES[name]);
}

/** One line without space around it. */
export function line(max: number): z.ZodString {
  return z
    .string(said('must be text'))
    .trim()
    .max(max, `must not be longer than ${max} characters`)
    .regex(new RegExp(textPattern(), 'u'), SENTENCES.text);
}

function textPattern(): string {
  return (PUBLISHED_SCHEMAS.reading.$defs as { text: Definition }).text.pattern;
}

/** A text that has its form may still name a day that there is not. */
function onCalendar(form: z.ZodString): z.ZodString {
  return form.refine((text) => {
    const [day = ''] = text.split('T');
    return !/^\d{4}-\d\d-\d\d$/.test(day) || z.iso.date().safeParse(day).success;
  }, 'names a day that the calendar does not have');
}

export const uri = defined('uri', 200);
export const date = onCalendar(defined('date', 10));
/** RFC 3339 with an offset. */
export const moment = onCalendar(defined('moment', 40));
export const businessIdentifier = z.strictObject({
  system: uri,
  value: defined('identifierValue', 200),
});
export const remark = defined('remark', 500);
export const truth = z.boolean(said('must be true or false'));
export const zone = z
  .string(said('must be text'))
  .max(64, 'must not be longer than 64 characters')
  .refine(isTimeZone, 'must be an IANA time zone such as Europe/Vienna');

/** A member that may be left out or be null, which is the same. */
export function optional<T extends z.ZodType>(form: T): z.ZodDefault<z.ZodNullable<T>> {
  return form.nullable().default(null as never);
}

/** The schema of a body as it is sent: what has a default may be left out. */
export function sentAs(form: z.ZodType): Record<string, unknown> {
  return z.toJSONSchema(form, { io: 'input' });
}
