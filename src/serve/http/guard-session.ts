/** What stands before the routes of people who signed in with the pages: who, and whether the request is theirs. */
import { timingSafeEqual } from 'node:crypto';
import type { NextFunction, Request, RequestHandler, Response } from 'express';
import { hasScope } from '../auth/scopes.js';
import { HttpError } from './http-error.js';
import { localsOf } from './locals.js';
import { formOf } from './read-form.js';
import { wantsPage } from './wants-page.js';
import type { SessionRoute, SignedIn } from './route.js';

/**
 * Who sends a request, by its cookie; null: nobody whose session is good.
 * @param inBackground the request is no sign of a person, and does not keep the session alive
 */
export type FindSignedIn = (req: Request, inBackground: boolean) => Promise<SignedIn | null>;

export const SIGN_IN_PATH = '/signin';

function isReading({ method }: Request): boolean {
  return method === 'GET' || method === 'HEAD';
}

/** Scripts are told; people who open a page are led to where they sign in. */
function notSignedIn(req: Request): HttpError {
  if (!isReading(req) || !wantsPage(req)) {
    const detail =
      'Nobody is signed in, or the session has ended; nothing was done. Sign in again.';
    return new HttpError({ status: 401, detail });
  }
  const next = encodeURIComponent(req.originalUrl);
  return new HttpError({
    status: 303,
    detail: 'Sign in first.',
    headers: { Location: `${SIGN_IN_PATH}?next=${next}` },
  });
}

function suffices({ scopes, needsAll }: SessionRoute, granted: readonly string[]): boolean {
  if (scopes.length === 0) return true;
  const held = scopes.map((scope) => hasScope(granted, scope));
  return needsAll ? held.every(Boolean) : held.some(Boolean);
}

/** Lets pass whose session is good and whose roles suffice. */
export function guardSession(route: SessionRoute, findSignedIn: FindSignedIn): RequestHandler {
  return async (req: Request, res: Response, next: NextFunction) => {
    res.setHeader('Cache-Control', 'no-store');
    const inBackground = route.background === true || req.headers['x-background'] !== undefined;
    const found = await findSignedIn(req, inBackground);
    if (found === null) throw notSignedIn(req);
    const locals = localsOf(res);
    const { requestId = null } = locals;
    const signedIn = { ...found, origin: { requestId, address: req.ip ?? null } };
    Object.assign(locals, { caller: signedIn, signedIn });
    if (!suffices(route, signedIn.scopes)) {
      throw new HttpError({ status: 403, detail: 'Your role does not allow this.' });
    }
    next();
  };
}

function isSame(sent: string, expected: string): boolean {
  const [one, other] = [Buffer.from(sent), Buffer.from(expected)];
  return one.length === other.length && timingSafeEqual(one, other);
}

/**
 * Refuses what another site may have had the browser send: a change must carry the session's token, which
 * only the pages of this site know. Goes after the body is read.
 */
export const checkCsrf: RequestHandler = (req, res, next) => {
  const { signedIn } = localsOf(res);
  if (signedIn === undefined) throw new Error('nobody guards a route of the pages');
  const header = req.headers['x-csrf-token'];
  const sent = typeof header === 'string' ? header : (formOf(req).get('csrf') ?? '');
  if (isReading(req) || isSame(sent, signedIn.session.csrfToken)) {
    next();
    return;
  }
  throw new HttpError({
    status: 403,
    detail: 'This did not come from a page of your session; nothing was done. Open the page again.',
  });
};
