/** Changes of a registered client, each answered 204: keys, a name elsewhere, an end, disabled or enabled. */
import type { Request, Response } from 'express';
import { z } from 'zod';
import { setDisabled, setEnd, setExternalId, setKeys } from '../../store/clients.js';
import { readJson } from '../http/read-json.js';
import { problemResponse } from '../http/responses.js';
import type { BodySpec, Caller, Route } from '../http/route.js';
import {
  auditEntry,
  CLIENT_ID,
  clientIdOf,
  EndBody,
  ExternalIdBody,
  NEW_CLIENT,
  NO_SUCH_CLIENT,
  noSuchClient,
  refuseTaken,
} from './client-forms.js';
import type { ClientAdministration } from './client-forms.js';
import { ClientKeysForm, toClientKeys } from './client-keys-form.js';

/** A change of state that answers 204. */
function changeRoute(
  { forget, audit }: ClientAdministration,
  facts: Pick<Route, 'method' | 'path' | 'summary' | 'description' | 'body'> & {
    responses?: Route['responses'];
  },
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
      ...facts.responses,
    },
    audit: { action, entity: 'clients/:clientId', by: 'act' },
    async handler(req: Request, res: Response, caller: Caller) {
      const clientId = clientIdOf(req);
      if (!(await change(clientId, req))) throw noSuchClient();
      forget(clientId);
      await audit(auditEntry(caller, action, 204, clientId));
      res.status(204).end();
    },
  };
}

function jsonBody(schema: z.ZodType, example: unknown): BodySpec {
  return { content: { 'application/json': { schema: z.toJSONSchema(schema), example } } };
}

function keysRoute(administration: ClientAdministration): Route {
  return changeRoute(
    administration,
    {
      method: 'put',
      path: '/admin/clients/:clientId/keys',
      summary: "Register a client's public keys",
      description:
        'From now on the client proves itself by these; keys or a secret that it had before end at once.',
      body: jsonBody(ClientKeysForm, NEW_CLIENT.keys),
    },
    'client-keys',
    (clientId, req) =>
      setKeys(administration.pool, clientId, toClientKeys(readJson(req, ClientKeysForm))),
  );
}

function externalIdRoute(administration: ClientAdministration): Route {
  return changeRoute(
    administration,
    {
      method: 'put',
      path: '/admin/clients/:clientId/external-id',
      summary: 'Set or clear the name of a client at the issuer that AUTH_ISSUER names',
      body: jsonBody(ExternalIdBody, { externalId: 'record-service' }),
      responses: { 409: problemResponse('Another client has this external id.') },
    },
    'client-external-id',
    (clientId, req) => {
      const { externalId } = readJson(req, ExternalIdBody);
      return refuseTaken(setExternalId(administration.pool, clientId, externalId));
    },
  );
}

function endRoute(administration: ClientAdministration): Route {
  return changeRoute(
    administration,
    {
      method: 'put',
      path: '/admin/clients/:clientId/end',
      summary: "Set or clear the end of a client's access",
      body: jsonBody(EndBody, { endsAt: '2027-01-01T00:00:00+01:00' }),
    },
    'client-end',
    (clientId, req) => {
      const { endsAt } = readJson(req, EndBody);
      return setEnd(administration.pool, clientId, endsAt === null ? null : Date.parse(endsAt));
    },
  );
}

function accessRoutes(administration: ClientAdministration): Route[] {
  const { pool } = administration;
  return [
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
  ];
}

export function clientChangeRoutes(administration: ClientAdministration): Route[] {
  return [
    keysRoute(administration),
    externalIdRoute(administration),
    endRoute(administration),
    ...accessRoutes(administration),
  ];
}
