/** Sign-in with the hospital's OpenID provider: out to it, and back. */
import type { Request, Response } from 'express';
import { AuthorizationResponseError } from 'openid-client';
import { z } from 'zod';
import { OutsideError } from '../../outside/fetch-outside.js';
import { Names } from '../../store/names.js';
import { localsOf } from '../http/locals.js';
import type { Route } from '../http/route.js';
import { homeOf, ownAddress } from './own-address.js';
import { lacksClaims, readPerson } from './read-claims.js';
import type { ClaimedPerson } from './read-claims.js';
import { queryText } from './query-text.js';
import type { ProviderSignIn, SignInServices } from './services.js';
import { sendFailedPage } from './sign-in-page.js';

export const START_PATH = '/signin/start';
export const BACK_PATH = '/signin/back';

/** Binds the answer to the browser that asked: another one does not have this cookie. */
const COOKIE = 'attempt';
const ATTEMPT_SECONDS = 600;
const SAVED_ATTEMPT = z.object({
  state: z.string(),
  nonce: z.string(),
  codeVerifier: z.string(),
  next: z.string().nullable(),
});

type SavedAttempt = z.output<typeof SAVED_ATTEMPT>;

function writeAttempt(attempt: SavedAttempt): string {
  return Buffer.from(JSON.stringify(attempt)).toString('base64url');
}

function readAttempt(cookie: string | null): SavedAttempt | null {
  try {
    const text = Buffer.from(cookie ?? '', 'base64url').toString('utf8');
    return SAVED_ATTEMPT.safeParse(JSON.parse(text)).data ?? null;
  } catch {
    return null;
  }
}

/** A plain reason for a failure; what the library says of it is for the log. */
function reasonFor(error: unknown): { readonly status: number; readonly reason: string } {
  if (error instanceof AuthorizationResponseError) {
    const { error: code, error_description: words = '' } = error;
    const said = `${code} ${words}`.replace(/\p{C}/gu, ' ').trim().slice(0, 300);
    return { status: 403, reason: `The hospital’s sign-in says: ${said}` };
  }
  const { cause } = error as { cause?: unknown };
  if (error instanceof OutsideError || cause instanceof OutsideError) {
    return { status: 503, reason: 'The hospital’s sign-in does not answer just now.' };
  }
  return { status: 401, reason: 'The answer of the hospital’s sign-in is not one to be trusted.' };
}

function fail({ log }: ProviderSignIn, res: Response, error: unknown): void {
  const { status, reason } = reasonFor(error);
  const { name, code } = error as { name?: string; code?: unknown };
  log.warn({ status, error: name, code }, 'a sign-in with the provider failed');
  sendFailedPage(res, { status, reason });
}

async function start(signIn: ProviderSignIn, req: Request, res: Response): Promise<void> {
  const next = ownAddress(queryText(req, 'next'));
  try {
    const { attempt, address } = await signIn.provider.begin();
    signIn.cookies.write(res, COOKIE, writeAttempt({ ...attempt, next }), ATTEMPT_SECONDS);
    res.setHeader('Cache-Control', 'no-store');
    res.status(303).setHeader('Location', address);
    res.end();
  } catch (error) {
    fail(signIn, res, error);
  }
}

async function enter(
  { pool, sessions }: SignInServices,
  { person, ...rest }: ClaimedPerson,
  req: Request,
  res: Response,
): Promise<void> {
  const names = new Names(pool);
  await names.learnPeople([person]);
  const personKey = names.person(person);
  if (personKey === null) throw new Error('a person is gone as soon as it was learnt');
  await sessions.begin(req, res, { person, personKey, ...rest });
}

/** Whoever is proved to be somebody; a page with the reason has been sent if nobody is. */
async function prove(
  signIn: ProviderSignIn,
  attempt: SavedAttempt,
  req: Request,
  res: Response,
): Promise<ClaimedPerson | null> {
  const { provider, claims: settings } = signIn;
  const [, query = ''] = req.originalUrl.split('?', 2);
  try {
    const claims = await provider.finish(query, attempt, (found) => lacksClaims(settings, found));
    const person = readPerson(settings, claims);
    if (person !== null && person.scopes.length > 0) return person;
    const reason =
      person === null
        ? 'The hospital’s sign-in does not tell who you are in a way that can be kept.'
        : `${person.name}, the hospital’s sign-in names no role of yours that is known here.`;
    localsOf(res).refused = { clientKey: undefined };
    sendFailedPage(res, { status: 403, reason });
  } catch (error) {
    fail(signIn, res, error);
  }
  return null;
}

async function comeBack(
  services: SignInServices,
  signIn: ProviderSignIn,
  req: Request,
  res: Response,
): Promise<void> {
  const attempt = readAttempt(signIn.cookies.read(req, COOKIE));
  signIn.cookies.clear(res, COOKIE);
  res.setHeader('Cache-Control', 'no-store');
  if (attempt === null) {
    const reason = 'This sign-in was not begun in this browser, or took longer than ten minutes.';
    sendFailedPage(res, { status: 401, reason });
    return;
  }
  const person = await prove(signIn, attempt, req, res);
  if (person === null) return;
  await enter(services, person, req, res);
  res.status(303).setHeader('Location', ownAddress(attempt.next) ?? homeOf(person.scopes));
  res.end();
}

export function providerRoutes(services: SignInServices, signIn: ProviderSignIn): Route[] {
  return [
    {
      method: 'get',
      path: START_PATH,
      scopes: 'public',
      rateClass: 'token',
      summary: 'Begin to sign in with the provider',
      responses: { 303: { description: 'To the provider.' } },
      handler: (req, res) => start(signIn, req, res),
    },
    {
      method: 'get',
      path: BACK_PATH,
      scopes: 'public',
      rateClass: 'token',
      summary: 'Come back from the provider',
      audit: { action: 'signed-in' },
      responses: { 303: { description: 'Signed in.' }, 401: { description: 'Not signed in.' } },
      handler: (req, res) => comeBack(services, signIn, req, res),
    },
  ];
}
