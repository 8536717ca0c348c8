import { createHash } from 'node:crypto';
import { z } from 'zod';
import { HttpError } from '../http/http-error.js';

const DIGEST_CHARACTERS = 16;

/**
 * Ties a cursor to the search that it goes on with. No secret: whoever makes one up reads nothing that
 * the same token could not search for; it keeps a mistake from passing for a page.
 */
function digest(search: unknown): string {
  return createHash('sha256')
    .update(JSON.stringify(search))
    .digest('base64url')
    .slice(0, DIGEST_CHARACTERS);
}

/** The place after which a search goes on, as an opaque text. */
export function writeCursor(place: readonly unknown[], search: unknown): string {
  return Buffer.from(JSON.stringify([digest(search), ...place])).toString('base64url');
}

function parse(text: string): unknown {
  const bytes = Buffer.from(text, 'base64url');
  if (bytes.toString('base64url') !== text) return null;
  try {
    return JSON.parse(bytes.toString());
  } catch {
    return null;
  }
}

function refuse(detail: string): HttpError {
  return new HttpError({ status: 400, detail });
}

/** @throws HttpError 400 when it is no cursor, or belongs to another search. */
export function readCursor<T extends readonly unknown[]>(
  text: string,
  search: unknown,
  place: z.ZodType<T>,
): T {
  const whole = z.tuple([z.string()], z.unknown()).safeParse(parse(text));
  if (!whole.success) throw refuse('cursor was not given out here.');
  const [tie, ...rest] = whole.data;
  if (tie !== digest(search)) {
    throw refuse(
      'cursor belongs to a search with other parameters: send it with those of its page.',
    );
  }
  const found = place.safeParse(rest);
  if (!found.success) throw refuse('cursor was not given out here.');
  return found.data;
}
