/** The environment variables of signing in with the pages. */
import { z } from 'zod';
import { isIssuerUrl, wholeNumber } from './config-values.js';
import { readRoles } from './read-roles.js';

export const SIGN_IN_VARIABLES = {
  SIGNIN_ISSUER: {
    about:
      'The OpenID provider that people sign in with, as it calls itself. Without it: nobody, or the people of the demo ward.',
    allowed:
      'an https URL without user, query and fragment, or an http one of this machine such as http://127.0.0.1:9000',
    read: z.string().refine(isIssuerUrl),
  },
  SIGNIN_CLIENT_ID: {
    about: 'The name of the gateway at SIGNIN_ISSUER.',
    allowed: 'a text',
    read: z.string(),
  },
  SIGNIN_CLIENT_SECRET: {
    about: 'The secret of SIGNIN_CLIENT_ID.',
    allowed: 'a text',
    secret: true,
    read: z.string(),
  },
  SIGNIN_SCOPE: {
    fallback: 'openid profile',
    about: 'What is asked of SIGNIN_ISSUER, so that it tells name and roles.',
    allowed: 'scopes separated by spaces, openid among them',
    read: z.string().refine((text) => text.split(' ').includes('openid')),
  },
  SIGNIN_PROMPT: {
    fallback: 'login',
    about:
      'Whether SIGNIN_ISSUER asks who is there each time, so that at a shared screen nobody is signed in as the person before.',
    allowed: 'login, select_account or off',
    read: z.enum(['login', 'select_account', 'off']),
  },
  SIGNIN_PERSON_CLAIM: {
    fallback: 'sub',
    about: 'The claim with the identifier of the person, such as a staff number.',
    allowed: 'the name of a claim',
    read: z.string(),
  },
  SIGNIN_PERSON_SYSTEM: {
    about: 'The system of that identifier. Without it: SIGNIN_ISSUER.',
    allowed: 'a URI such as urn:example:staff',
    read: z.string().regex(/^[a-z][a-z0-9+.-]*:\S+$/i),
  },
  SIGNIN_ROLES_CLAIM: {
    fallback: 'groups',
    about: "The claim with the person's roles; a full stop leads into a claim that has claims.",
    allowed: 'the name of a claim',
    read: z.string(),
  },
  SIGNIN_ROLES: {
    about: 'What each role allows: ROLE=SCOPE SCOPE, roles separated by semicolons.',
    allowed: 'a list such as ward nurses=bedside; analysts=review.read review.write',
    read: z.string().transform((text, context) => {
      const roles = readRoles(text);
      if (roles !== null) return roles;
      context.addIssue({ code: 'custom' });
      return z.NEVER;
    }),
  },
  SESSION_IDLE_MINUTES: {
    fallback: '30',
    about: 'After this time without a request somebody signed in with the pages is signed out.',
    allowed: 'a whole number from 1 to 1440',
    read: wholeNumber(1, 1440),
  },
  SESSION_HOURS: {
    fallback: '12',
    about: 'After this time a person signs in again in any case.',
    allowed: 'a whole number from 1 to 24',
    read: wholeNumber(1, 24),
  },
} as const;
