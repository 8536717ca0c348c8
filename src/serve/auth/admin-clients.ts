import type { Request, Response } from 'express';
import { z } from 'zod';
import { addClient, listClients, rotateSecret, setDisabled, setEnd } from '../../store/clients.js';
import type { ClientRecord } from '../../store/clients.js';
import type { AuditEntry } from '../../store/audit.js';
import type { Pool } from '../../store/pool.js';
import { HttpError } from '../http/http-error.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import { isUuid, pathParameter } from '../http/route.js';
import type { Caller, ParameterSpec, Route } from '../http/route.js';
import type { ClientCache } from './client-cache.js';
import { isKnownScope, KNOWN_SCOPES_SENTENCE } from './scopes.js';

export interface ClientAdministration {
  readonly pool: Pool;
  readonly clients: ClientCache;
  readonly audit: (entry: AuditEntry) => Promise<void>;
}

/** No control characters and no halves of a surrogate pair: the database takes no NUL, and nobody means the rest. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const PLAIN = /^[^\u0000-\u001f\u007f-\u009f\ud800-\udfff]*$/u;
const NAME = z.string().trim().min(1).max(200).regex(PLAIN, 'A name has no control characters.');
const NewClientBody = z.strictObject({
  name: NAME,
  scopes: z.array(z.string().refine(isKnownScope, KNOWN_SCOPES_SENTENCE)).min(1).max(64),
  source: z.strictObject({ name: NAME, attended: z.boolean() }),
});
const EndBody = z.strictObject({ endsAt: z.iso.datetime({ offset: true }).nullable() });

const CREDENTIALS = {
  type: 'object',
  required: ['clientId', 'clientSecret'],
  properties: { clientId: { type: 'string' }, clientSecret: { type: 'string' } },
};
const CLIENT_ID: ParameterSpec = {
  name: 'clientId',
  in: 'path',
  description: 'Id of the client.',
  schema: { type: 'string' },
};
const NO_SUCH_CLIENT = problemResponse('There is no such client.');

function isoOrNull(timeMs: number | null): string | null {
  return timeMs === null ? null : new Date(timeMs).toISOString();
}

/** A client for its administrator: everything but the secret's hash. */
function render(client: ClientRecord): object {
  return {
    clientId: client.clientId,
    name: client.name,
    scopes: client.scopes,
    source: { name: client.source, attended: client.attended },
    createdAt: isoOrNull(client.createdAtMs),
    disabledAt: isoOrNull(client.disabledAtMs),
    endsAt: isoOrNull(client.endsAtMs),
  };
}

function noSuchClient(): HttpError {
  return new HttpError({ status: 404, detail: 'There is no such client.' });
}

function clientIdOf(req: Request): string {
  const clientId = pathParameter(req, 'clientId');
  if (!isUuid(clientId)) throw noSuchClient();
  return clientId;
}

function addRoute({ pool, audit }: ClientAdministration): Route {
  return {
    method: 'post',
    path: '/admin/clients',
    scopes: ['admin'],
    summary: 'Register a client, and its source if that is new',
    body: { content: { 'application/json': { schema: z.toJSONSchema(NewClientBody) } } },
    responses: {
      201: jsonResponse('Registered. The secret is told this once.', CREDENTIALS),
      400: problemResponse('The body is at fault, or a scope is not known.'),
      409: problemResponse('A source of that name is attended in another way.'),
    },
    async handler(req, res, caller) {
      const client = readJson(req, NewClientBody);
      const added = await addClient(pool, client);
      if (added === null) {
        const detail = 'A source of that name exists and is attended in another way.';
        throw new HttpError({ status: 409, detail });
      }
      await audit(entry(caller, 'client-add', 201, added.clientId));
      sendJson(res, 201, added);
    },
  };
}

function listRoute({ pool }: ClientAdministration): Route {
  return {
    method: 'get',
    path: '/admin/clients',
    scopes: ['admin'],
    summary: 'List the registered clients',
    responses: { 200: jsonResponse('All clients, oldest first.', { type: 'object' }) },
    async handler(_req: Request, res: Response) {
      sendJson(res, 200, { clients: (await listClients(pool)).map(render) });
    },
  };
}

function entry(caller: Caller, action: string, outcome: number, clientId: string): AuditEntry {
  return { clientKey: caller.clientKey, action, outcome, entity: `clients/${clientId}` };
}

function rotateRoute({ pool, clients, audit }: ClientAdministration): Route {
  return {
    method: 'post',
    path: '/admin/clients/:clientId/rotate',
    scopes: ['admin'],
    summary: 'Give a client a new secret',
    description: 'The old secret ends at once; tokens already given live out their five minutes.',
    parameters: [CLIENT_ID],
    responses: {
      200: jsonResponse('The new secret, told this once.', CREDENTIALS),
      404: NO_SUCH_CLIENT,
    },
    async handler(req, res, caller) {
      const clientId = clientIdOf(req);
      const rotated = await rotateSecret(pool, clientId);
      if (rotated === null) throw noSuchClient();
      clients.forget(clientId);
      await audit(entry(caller, 'client-rotate', 200, clientId));
      sendJson(res, 200, rotated);
    },
  };
}

/** A change of state that answers 204. */
function changeRoute(
  { clients, audit }: ClientAdministration,
  facts: Pick<Route, 'method' | 'path' | 'summary' | 'body'>,
  action: string,
  change: (clientId: string, req: Request) => Promise<boolean>,
): Route {
  return {
    ...facts,
    scopes: ['admin'],
    parameters: [CLIENT_ID],
    responses: {
      204: { description: 'Done. Every process knows it within two seconds.' },
      ...(facts.body === undefined ? {} : { 400: problemResponse('The body is at fault.') }),
      404: NO_SUCH_CLIENT,
    },
    async handler(req: Request, res: Response, caller: Caller) {
      const clientId = clientIdOf(req);
      if (!(await change(clientId, req))) throw noSuchClient();
      clients.forget(clientId);
      await audit(entry(caller, action, 204, clientId));
      res.status(204).end();
    },
  };
}

/** Registration of clients: add, list, rotate, disable, enable, give an end. */
export function adminClientRoutes(administration: ClientAdministration): Route[] {
  const { pool } = administration;
  return [
    addRoute(administration),
    listRoute(administration),
    rotateRoute(administration),
    changeRoute(
      administration,
      { method: 'post', path: '/admin/clients/:clientId/disable', summary: 'Disable a client' },
      'client-disable',
      (clientId) => setDisabled(pool, clientId, Date.now()),
    ),
    changeRoute(
      administration,
      { method: 'post', path: '/admin/clients/:clientId/enable', summary: 'Enable a client again' },
      'client-enable',
      (clientId) => setDisabled(pool, clientId, null),
    ),
    changeRoute(
      administration,
      {
        method: 'put',
        path: '/admin/clients/:clientId/end',
        summary: "Set or clear the end of a client's access",
        body: { content: { 'application/json': { schema: z.toJSONSchema(EndBody) } } },
      },
      'client-end',
      (clientId, req) => {
        const { endsAt } = readJson(req, EndBody);
        return setEnd(pool, clientId, endsAt === null ? null : Date.parse(endsAt));
      },
    ),
  ];
}
