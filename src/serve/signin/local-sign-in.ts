/** Sign-in by name and password, for the people of the demo ward. */
import type { Request, Response } from 'express';
import { HttpError } from '../http/http-error.js';
import { addressOf } from '../http/rate-limits.js';
import { FORM_BODY, formOf } from '../http/read-form.js';
import type { Route } from '../http/route.js';
import { findLocalPerson } from '../../store/local-people.js';
import type { LocalPerson } from '../../store/local-people.js';
import { homeOf, ownAddress } from './own-address.js';
import { isPassword } from './password.js';
import type { SignInServices } from './services.js';
import { sendLocalPage } from './sign-in-page.js';

const MAX_LOGIN_CHARACTERS = 100;
const MAX_PASSWORD_CHARACTERS = 200;

/** Nobody has a session yet whose token a form could carry; the browser says which site sends it. */
function refuseOtherSites(req: Request): void {
  const site = req.headers['sec-fetch-site'] ?? 'none';
  if (site === 'same-origin' || site === 'none') return;
  throw new HttpError({ status: 403, detail: 'This did not come from the sign-in page.' });
}

/** Null for a wrong name and a wrong password alike, after the same time. */
async function prove(
  { pool, failures }: SignInServices,
  req: Request,
  login: string,
  password: string,
): Promise<LocalPerson | null> {
  const key = `${addressOf(req)} ${login}`;
  await failures.check(key);
  const isSane = login.length <= MAX_LOGIN_CHARACTERS && !login.includes('\0');
  const person = isSane ? await findLocalPerson(pool, login) : null;
  const tried = password.slice(0, MAX_PASSWORD_CHARACTERS);
  if (await isPassword(tried, person)) return person;
  await failures.count(key);
  return null;
}

async function signIn(services: SignInServices, req: Request, res: Response): Promise<void> {
  refuseOtherSites(req);
  const form = formOf(req);
  const next = ownAddress(form.get('next'));
  const login = (form.get('login') ?? '').trim().toLowerCase();
  const person = await prove(services, req, login.slice(0, 200), form.get('password') ?? '');
  if (person === null) {
    sendLocalPage(res, { next, status: 401, fault: 'Name and password do not go together.' });
    return;
  }
  await services.sessions.begin(req, res, person);
  res.status(303).setHeader('Location', next ?? homeOf(person.scopes));
  res.end();
}

export function localSignInRoute(services: SignInServices): Route {
  return {
    method: 'post',
    path: '/signin',
    scopes: 'public',
    rateClass: 'token',
    summary: 'Sign in by name and password',
    audit: { action: 'signed-in' },
    body: FORM_BODY,
    responses: { 303: { description: 'Signed in.' }, 401: { description: 'Not signed in.' } },
    handler: (req, res) => signIn(services, req, res),
  };
}
