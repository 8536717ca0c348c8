import type { Request, Response } from 'express';
import { z } from 'zod';
import {
  addClient,
  addClientWithKeys,
  findClient,
  listClients,
  rotateSecret,
} from '../../store/clients.js';
import type { ClientRecord } from '../../store/clients.js';
import { HttpError } from '../http/http-error.js';
import { readJson } from '../http/read-json.js';
import { jsonResponse, problemResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import { clientChangeRoutes } from './client-changes.js';
import {
  auditEntry,
  CLIENT_ID,
  clientIdOf,
  CREDENTIALS,
  NEW_CLIENT,
  NewClientBody,
  NO_SUCH_CLIENT,
  noSuchClient,
  refuseTaken,
} from './client-forms.js';
import type { ClientAdministration } from './client-forms.js';
import { toClientKeys } from './client-keys-form.js';

function isoOrNull(timeMs: number | null): string | null {
  return timeMs === null ? null : new Date(timeMs).toISOString();
}

/** Which keys prove the client: their ids where they are registered in place, or where they are published. */
function renderKeys({ keys }: ClientRecord): object | null {
  if (keys === null || 'jwksUrl' in keys) return keys;
  return { kids: keys.jwks.keys.map(({ kid }) => kid) };
}

/** A client for its administrator: everything but the secret's hash. */
function render(client: ClientRecord): object {
  return {
    clientId: client.clientId,
    name: client.name,
    scopes: client.scopes,
    source: { name: client.source, attended: client.attended },
    keys: renderKeys(client),
    externalId: client.externalId,
    createdAt: isoOrNull(client.createdAtMs),
    disabledAt: isoOrNull(client.disabledAtMs),
    endsAt: isoOrNull(client.endsAtMs),
  };
}

function addRoute({ pool, audit }: ClientAdministration): Route {
  return {
    method: 'post',
    path: '/admin/clients',
    scopes: ['admin'],
    summary: 'Register a client, and its source if that is new',
    description:
      'A client proves itself by a secret, which is made here, or by public keys of its own: `jwksUrl` says where it publishes them, `jwks` holds them in place. `externalId` is its name at the issuer that AUTH_ISSUER names.',
    body: {
      content: {
        'application/json': { schema: z.toJSONSchema(NewClientBody), example: NEW_CLIENT },
      },
    },
    responses: {
      201: jsonResponse('Registered. The secret is told this once.', CREDENTIALS),
      400: problemResponse('The body is at fault, or a scope is not known.'),
      409: problemResponse(
        'A source of that name is attended in another way, or another client has the external id.',
      ),
    },
    audit: { action: 'client-add', by: 'act' },
    async handler(req, res, caller) {
      const { keys, ...client } = readJson(req, NewClientBody);
      const added = await refuseTaken(
        keys === undefined
          ? addClient(pool, client)
          : addClientWithKeys(pool, client, toClientKeys(keys)),
      );
      if (added === null) {
        const detail = 'A source of that name exists and is attended in another way.';
        throw new HttpError({ status: 409, detail });
      }
      await audit(auditEntry(caller, 'client-add', 201, added.clientId));
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

function rotateRoute({ pool, forget, audit }: ClientAdministration): Route {
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
      409: problemResponse('The client proves itself by keys and has no secret.'),
    },
    audit: { action: 'client-rotate', entity: 'clients/:clientId', by: 'act' },
    async handler(req, res, caller) {
      const clientId = clientIdOf(req);
      const rotated = await rotateSecret(pool, clientId);
      if (rotated === null) {
        if ((await findClient(pool, clientId)) === null) throw noSuchClient();
        throw new HttpError({ status: 409, detail: 'The client proves itself by keys.' });
      }
      forget(clientId);
      await audit(auditEntry(caller, 'client-rotate', 200, clientId));
      sendJson(res, 200, rotated);
    },
  };
}

/** Registration of clients: add, list, rotate, and all changes of their state. */
export function adminClientRoutes(administration: ClientAdministration): Route[] {
  return [
    addRoute(administration),
    listRoute(administration),
    rotateRoute(administration),
    ...clientChangeRoutes(administration),
  ];
}
