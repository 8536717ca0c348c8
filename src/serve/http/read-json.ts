import type { Request } from 'express';
import type { z } from 'zod';
import type { Fault } from '../../vitals/shapes.js';
import { HttpError } from './http-error.js';
import { bodyOf } from './read-body.js';

function badBody(errors: readonly Fault[]): HttpError {
  return new HttpError({ status: 400, detail: 'The body is at fault.', errors });
}

/** RFC 6901 §3: `~` and `/` in a name are escaped. */
function toPointer(path: readonly PropertyKey[]): string {
  return path
    .map((step) => `/${String(step).replaceAll('~', '~0').replaceAll('/', '~1')}`)
    .join('');
}

function parse(bytes: Buffer): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    throw badBody([{ pointer: '', message: 'The body is not JSON in UTF-8.' }]);
  }
}

/** The body of a request of administration, checked; throws a 400 that names every fault. */
export function readJson<T>(req: Request, schema: z.ZodType<T>): T {
  const result = schema.safeParse(parse(bodyOf(req)));
  if (result.success) return result.data;
  throw badBody(
    result.error.issues.map(({ path, message }) => ({ pointer: toPointer(path), message })),
  );
}
