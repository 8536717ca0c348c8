import { noteLook } from '../../http/audit-requests.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import type { Route } from '../../http/route.js';
import { countsRoute } from './counts-route.js';
import { csvRoute } from './csv-route.js';
import { sendList } from './list-page.js';
import { noPatientIn, queryOf } from '../parts/query-of.js';
import { replayRoutes } from './replay-routes.js';
import { addressOf, readSearchFields, SEARCH_PARAMETERS } from './search-fields.js';
import { REJECTED_PATH } from './search-form.js';
import type { RejectedServices } from './services.js';

const LISTED = { action: 'review-list', entity: 'desk/rejected' } as const;

function listRoute(services: RejectedServices): Route {
  return {
    method: 'get',
    path: REJECTED_PATH,
    by: 'session',
    scopes: ['review.read'],
    summary: 'What was rejected and refused',
    parameters: SEARCH_PARAMETERS,
    audit: LISTED,
    handler(req, res, caller) {
      noPatientIn(req);
      return sendList(services, res, caller, readSearchFields(queryOf(req), services.siteZone));
    },
  };
}

/** A search that names a patient is answered here; any other gets an address of its own. */
function searchRoute(services: RejectedServices): Route {
  return {
    method: 'post',
    path: `${REJECTED_PATH}/search`,
    by: 'session',
    scopes: ['review.read'],
    summary: 'Search what was rejected, also of one patient',
    body: FORM_BODY,
    parameters: SEARCH_PARAMETERS,
    audit: LISTED,
    async handler(req, res, caller) {
      const search = readSearchFields(formOf(req), services.siteZone);
      if (search.fields.patient === undefined) {
        res.status(303).setHeader('Location', addressOf(REJECTED_PATH, search)).end();
        return;
      }
      noteLook(res, { query: Object.entries(search.fields) });
      await sendList(services, res, caller, search);
    },
  };
}

/** What was rejected and refused: looked for, counted, taken out, read again. */
export function rejectedRoutes(services: RejectedServices): Route[] {
  return [
    listRoute(services),
    searchRoute(services),
    countsRoute(services),
    csvRoute(services),
    ...replayRoutes(services),
  ];
}
