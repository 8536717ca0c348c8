/** Where people sign in and out. */
import { SIGN_IN_PATH } from '../http/guard-session.js';
import { FORM_BODY } from '../http/read-form.js';
import type { Area, Route } from '../http/route.js';
import { localSignInRoute } from './local-sign-in.js';
import { homeOf, ownAddress } from './own-address.js';
import { providerRoutes } from './provider-routes.js';
import { queryText } from './query-text.js';
import type { SignInServices } from './services.js';
import {
  sendLocalPage,
  sendNoWayPage,
  sendProviderPage,
  sendSignedOutPage,
} from './sign-in-page.js';
import { personTokenRoute } from './token-route.js';

const SIGNED_OUT_PATH = '/signin/out';

function signInPage({ sessions, localSignIn, provider }: SignInServices): Route {
  return {
    method: 'get',
    path: SIGN_IN_PATH,
    scopes: 'public',
    summary: 'The sign-in page',
    responses: { 200: { description: 'The page.' }, 303: { description: 'Signed in already.' } },
    async handler(req, res) {
      const next = ownAddress(queryText(req, 'next'));
      const signedIn = await sessions.findSignedIn(req, false);
      if (signedIn !== null) {
        res.setHeader('Cache-Control', 'no-store');
        res.status(303).setHeader('Location', next ?? homeOf(signedIn.scopes));
        res.end();
      } else if (provider !== null) sendProviderPage(res, { next });
      else if (localSignIn) sendLocalPage(res, { next });
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

function signedOutPage({ provider }: SignInServices): Route {
  return {
    method: 'get',
    path: SIGNED_OUT_PATH,
    scopes: 'public',
    summary: 'The page after signing out',
    responses: { 200: { description: 'The page.' } },
    async handler(_req, res) {
      // Who is signed out here must learn so even if the provider does not answer.
      const end = provider?.provider.endAddress().catch(() => null);
      sendSignedOutPage(res, (await end) ?? null);
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
      ...(services.provider === null ? [] : providerRoutes(services, services.provider)),
      ...(services.localSignIn ? [localSignInRoute(services)] : []),
      signOut(services),
      signedOutPage(services),
      personTokenRoute(services),
    ],
  };
}
