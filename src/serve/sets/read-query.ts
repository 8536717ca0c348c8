import type { Request } from 'express';
import { HttpError } from '../http/http-error.js';

const DEFAULT_LIMIT = 100;
const MAX_LIMIT = 1_000;

/** RFC 3339 §5.6: a date, a time and an offset; lower case letters are taken too. */
const RFC_3339 =
  /^(\d{4})-(\d{2})-(\d{2})t([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d{1,9})?(z|[+-]([01]\d|2[0-3]):[0-5]\d)$/i;

function badQuery(detail: string): HttpError {
  return new HttpError({ status: 400, detail });
}

function single(req: Request, name: string): string | undefined {
  const value = (req.query as Record<string, string | string[] | undefined>)[name];
  if (Array.isArray(value)) throw badQuery(`${name} stands more than once.`);
  return value;
}

/** No set changed before the one, none will after the other; further out, years take more than four digits. */
const EPOCH_MS = 0;
const END_OF_9999_MS = Date.UTC(10_000, 0) - 1;

/** Dates that the calendar does not have, such as 30 February, are no dates. */
function parseInstant(text: string): number | null {
  const [, year, month, day] = RFC_3339.exec(text) ?? [];
  if (year === undefined || month === undefined || day === undefined) return null;
  const date = new Date(Date.UTC(Number(year), Number(month) - 1, Number(day)));
  const real = date.getUTCMonth() === Number(month) - 1 && date.getUTCDate() === Number(day);
  const epochMs = Date.parse(text.toUpperCase());
  return real && !Number.isNaN(epochMs) ? epochMs : null;
}

/** The `changedSince` of a query, in ms since the epoch; throws a 400. */
export function readChangedSince(req: Request): number {
  const text = single(req, 'changedSince');
  if (text === undefined || text === '') {
    throw badQuery('changedSince is missing: a time such as 2026-03-01T07:15:00Z.');
  }
  if (/\s\d{2}:\d{2}$/.test(text)) {
    throw badQuery('changedSince has lost the + of its offset: in an address it is written %2B.');
  }
  const epochMs = parseInstant(text);
  if (epochMs === null) {
    throw badQuery(
      'changedSince is no RFC 3339 time with an offset, such as 2026-03-01T07:15:00Z.',
    );
  }
  return Math.min(Math.max(epochMs, EPOCH_MS), END_OF_9999_MS);
}

/** How many sets to list at most; throws a 400. */
export function readLimit(req: Request): number {
  const text = single(req, 'limit') ?? String(DEFAULT_LIMIT);
  const limit = /^\d{1,6}$/.test(text) ? Number(text) : 0;
  if (limit < 1 || limit > MAX_LIMIT) {
    throw badQuery(`limit is a whole number from 1 to ${MAX_LIMIT}.`);
  }
  return limit;
}
