/** Where people sign in and out. */
import { SIGN_IN_PATH } from '../http/guard-session.js';
import { FORM_BODY } from '../http/read-form.js';
import type { Area, Route } from '../http/route.js';
import { localSignInRoute } from './local-sign-in.js';
import { homeOf, ownAddress } from './own-address.js';
import { queryText } from './services.js';
import type { SignInServices } from './services.js';
import { sendLocalPage, sendNoWayPage, sendSignedOutPage } from './sign-in-page.js';
import { personTokenRoute } from './token-route.js';

const SIGNED_OUT_PATH = '/signin/out';

function signInPage({ sessions, localSignIn }: SignInServices): Route {
  return {
    method: 'get',
    path: SIGN_IN_PATH,
    scopes: 'public',
    summary: 'The sign-in page',
    responses: { 200: { description: 'The page.' }, 303: { description: 'Signed in already.' } },
    async handler(req, res) {
      const next = ownAddress(queryText(req, 'next'));
      const signedIn = await sessions.findSignedIn(req);
      if (signedIn !== null) {
        res.setHeader('Cache-Control', 'no-store');
        res.status(303).setHeader('Location', next ?? homeOf(signedIn.scopes));
        res.end();
      } else if (localSignIn) sendLocalPage(res, { next });
      else sendNoWayPage(res);
    },
  };
}

function signOut({ sessions }: SignInServices): Route {
  return {
    method: 'post',
    path: SIGNED_OUT_PATH,
    by: 'session',
    scopes: [],
    summary: 'Sign out',
    audit: { action: 'signed-out' },
    body: FORM_BODY,
    async handler(req, res) {
      await sessions.end(req, res);
      res.status(303).setHeader('Location', SIGNED_OUT_PATH);
      res.end();
    },
  };
}

function signedOutPage(): Route {
  return {
    method: 'get',
    path: SIGNED_OUT_PATH,
    scopes: 'public',
    summary: 'The page after signing out',
    responses: { 200: { description: 'The page.' } },
    handler(_req, res) {
      sendSignedOutPage(res);
    },
  };
}

export function signInArea(services: SignInServices): Area {
  return {
    name: 'sign-in',
    description: 'Where people sign in and out',
    prefix: SIGN_IN_PATH,
    errorStyle: 'page',
    routes: [
      signInPage(services),
      ...(services.localSignIn ? [localSignInRoute(services)] : []),
      signOut(services),
      signedOutPage(),
      personTokenRoute(services),
    ],
  };
}
