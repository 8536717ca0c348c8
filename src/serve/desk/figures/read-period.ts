/** The days that a page of figures is about, as a form asks for them. */
import { z } from 'zod';
import { HttpError } from '../../http/http-error.js';
import { writeMoment } from '../../pages/parts/moment.js';
import { readSiteTime } from '../../pages/site-time.js';
import { text } from '../../review/parameter-forms.js';

const DAY_MS = 86_400_000;
const USUAL_DAYS = 28;
const MOST_DAYS = 366;

/** From the first to the last day, both whole; `toMs` is the end of the last. */
export interface Period {
  readonly from: string;
  readonly to: string;
  readonly fromMs: number;
  readonly toMs: number;
}

/** A form sends what was left empty as an empty text. */
export function optional<T>(form: z.ZodType<T>): z.ZodType<T | undefined> {
  return z.preprocess((value) => (value === '' ? undefined : value), form.optional());
}

const day = z.iso.date('must be a day such as 2026-03-01');

/** Parameters of every page of figures. */
export const PERIOD_FORMS = {
  from: optional(day),
  to: optional(day),
  ward: optional(text),
};

/** @throws HttpError 400 in words, for parameters that are unknown or not what they may be. */
export function readForms<T>(form: z.ZodType<T>, query: unknown): T {
  const read = form.safeParse(query);
  if (read.success) return read.data;
  const sentences = read.error.issues.map((issue) =>
    issue.code === 'unrecognized_keys'
      ? `There is no parameter ${issue.keys.join(', ')}.`
      : `“${String(issue.path[0])}” ${issue.message}.`,
  );
  throw new HttpError({ status: 400, detail: [...new Set(sentences)].join(' ') });
}

function daysLater(date: string, days: number): string {
  return new Date(Date.parse(date) + days * DAY_MS).toISOString().slice(0, 10);
}

/** The days asked for; else the last four weeks. The days are those of the site's zone. */
export function readPeriod(
  asked: { readonly from?: string | undefined; readonly to?: string | undefined },
  { siteZone, clock }: { readonly siteZone: string; readonly clock: () => number },
): Period {
  const to = asked.to ?? writeMoment(clock(), siteZone).slice(0, 10);
  const from = asked.from ?? daysLater(to, 1 - USUAL_DAYS);
  const startOf = (date: string): number => readSiteTime(date, siteZone) ?? NaN;
  const period = { from, to, fromMs: startOf(from), toMs: startOf(daysLater(to, 1)) };
  if (from > to) {
    throw new HttpError({ status: 400, detail: 'The first day lies after the last.' });
  }
  if (Date.parse(to) - Date.parse(from) >= MOST_DAYS * DAY_MS) {
    throw new HttpError({ status: 400, detail: `Ask for ${MOST_DAYS} days at most.` });
  }
  return period;
}
