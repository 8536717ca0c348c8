import type { Request, Response } from 'express';
import { findEdition } from '../../store/editions.js';
import { editionName } from '../../vitals/answers.js';
import { jsonResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import type { BedsideServices } from './services.js';

const SITE = {
  type: 'object',
  required: ['zone', 'units', 'identifierSystems', 'idleMinutes', 'edition', 'rules'],
  properties: {
    zone: { type: 'string', description: 'IANA time zone.' },
    units: { type: 'object', description: 'UCUM code offered first, by sign.' },
    identifierSystems: {
      type: 'array',
      items: {
        type: 'object',
        required: ['system', 'label'],
        properties: { system: { type: 'string' }, label: { type: 'string' } },
      },
    },
    idleMinutes: { type: 'integer' },
    edition: { type: 'string', description: 'The edition in force.' },
    rules: { type: 'object', description: 'What it changes of the limits of the gateway.' },
  },
};

/** What the page keeps for the time without a network: nothing of it is about a patient. */
export function siteRoute({ pool, editions, site, clock }: BedsideServices): Route {
  return {
    method: 'get',
    path: '/bedside/site',
    scopes: ['bedside'],
    summary: 'Read what the site offers at the bedside, and the limits that it judges by',
    responses: { 200: jsonResponse('As it is now.', SITE) },
    async handler(_req: Request, res: Response) {
      const { number } = (await editions.inForce(pool))(clock());
      const record = await findEdition(pool, number);
      const { zone, units, identifierKinds, idleMinutes } = site;
      sendJson(res, 200, {
        ...{ zone, units, idleMinutes },
        identifierSystems: identifierKinds,
        edition: editionName(number),
        rules: record?.configuration ?? {},
      });
    },
  };
}
