/** Who is at the page, and the paper by which the next person can hand in what this one took. */
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import type { BedsideServices } from './services.js';

/** The page itself is the same for everybody; it asks this to learn whose it is. */
export function sessionRoute(): Route {
  return {
    method: 'get',
    path: '/bedside/session',
    by: 'session',
    scopes: ['bedside'],
    summary: 'Who is signed in',
    handler(_req, res, { person, session: { name, csrfToken } }) {
      sendJson(res, 200, { person, name, csrf: csrfToken });
    },
  };
}

export function voucherRoute({ vouchers }: BedsideServices): Route {
  return {
    method: 'post',
    path: '/bedside/vouchers',
    scopes: ['bedside'],
    rateClass: 'token',
    summary: 'Get a voucher for sets that another person may have to hand in',
    description:
      'Seven days long somebody else who is signed in can send sets as taken by this person, with the voucher in the header `Taken-By` of `POST /sets`. It is no access token.',
    responses: {
      201: jsonResponse('The voucher.', {
        type: 'object',
        required: ['voucher', 'expiresIn'],
        properties: {
          voucher: { type: 'string' },
          expiresIn: { type: 'integer', description: 'Seconds until it ends.' },
        },
      }),
      403: problemResponse('No person is signed in.'),
    },
    async handler(_req, res, caller) {
      sendJson(res, 201, await vouchers.issue(caller));
    },
  };
}
