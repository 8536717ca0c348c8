import type { Request } from 'express';
import { bodyOf, mediaTypeOf } from './read-body.js';
import type { BodySpec } from './route.js';

const FORM_TYPE = 'application/x-www-form-urlencoded';

/** The body of a route that takes the forms of pages; without it their fields are not read. */
export const FORM_BODY: BodySpec = {
  content: { [FORM_TYPE]: { schema: { type: 'object' } } },
  maxBytes: 64 * 1024,
};

/** The fields of a form as they were sent; none when the body is no form. */
export function formOf(req: Request): URLSearchParams {
  const isForm = mediaTypeOf(req) === FORM_TYPE;
  return new URLSearchParams(isForm ? bodyOf(req).toString('utf8') : '');
}
