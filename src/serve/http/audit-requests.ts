/** The audit trail of requests: one place for all routes; a handler only adds what it alone knows. */
import type { Request, RequestHandler, Response } from 'express';
import type { Look } from '../../store/audit-looks.js';
import { localsOf } from './locals.js';
import type { Actor, Looked } from './locals.js';
import type { Area, AuditSpec, Route } from './route.js';

/** Takes a look down without waiting for the disk. */
export type RecordLook = (look: Look) => void;

/** Adds to the entry of a request what its handler knows: ids only, never a patient's identifier. */
export function noteLook(res: Response, looked: Looked): void {
  const locals = localsOf(res);
  locals.looked = { ...locals.looked, ...looked };
}

/** On a route that asks for no token: who it turned out to be, so that the request gets an entry. */
export function noteActor(res: Response, actor: Actor): void {
  localsOf(res).actor = actor;
}

/** Statuses that refuse access: they are on record whoever writes the entries of the route. */
const REFUSALS: readonly number[] = [401, 403, 429];

/** An id of ours, alone or with words around it, or a small number: nothing else of an address is kept. */
const SAFE_PART =
  /^(?:[a-z]+-)*[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}(?:[.-][a-z0-9]+)*$|^\d{1,5}$/i;

/** The entity of a route with the ids of the path in their places. */
function entityOf(
  route: Route,
  { entity = route.path.slice(1) }: AuditSpec,
  params: Request['params'],
): string {
  return entity.replace(/:(\w+)/g, (pattern, name: string) => {
    const part = params[name];
    return typeof part === 'string' && SAFE_PART.test(part) ? part : pattern;
  });
}

/** More parameters than a request of ours has. */
const MOST_PARAMETERS = 100;

/** The parameters asked with. A name that the route does not know may be anything, and is left out. */
function queryOf(route: Route, req: Request, looked: Looked | undefined): Look['query'] {
  const [, address = ''] = req.originalUrl.split('?', 2);
  const pairs = looked?.query ?? [...new URLSearchParams(address)];
  if (pairs.length === 0) return undefined;
  const known = (route.parameters ?? []).map(({ name }) => name);
  return pairs
    .slice(0, MOST_PARAMETERS)
    .map(([name, value]) => [known.includes(name) ? name : '(other)', value]);
}

function refusalOf(
  route: Route,
  req: Request,
  res: Response,
  countStranger: () => number | null,
): Look | null {
  const { caller, refused, overLimit } = localsOf(res);
  const { statusCode: outcome } = res;
  // Over the limit, the first of a minute stands for all.
  if (outcome === 429 && overLimit !== 'first') return null;
  const { audit } = route;
  const isSignIn = route.scopes === 'public' && audit !== undefined && audit !== 'none';
  const action = isSignIn ? `${audit.action ?? 'sign-in'}-refused` : 'refused';
  const refusal = { action, outcome, entity: `${req.method} ${route.path}` };
  const clientKey = caller?.clientKey ?? refused?.clientKey;
  if (clientKey !== undefined) return { ...refusal, clientKey, person: caller?.person };
  const passedOver = countStranger();
  if (passedOver === null) return null;
  return { ...refusal, clientKey: null, ...(passedOver > 0 && { detail: { passedOver } }) };
}

function isLeftToActs(spec: AuditSpec, status: number): boolean {
  // What is not there has nobody acted upon.
  if (spec.by === 'act-and-refusals') return status !== 404;
  return spec.by === 'act' && status < 400 && status !== 0;
}

function lookOf(
  area: Area,
  route: Route,
  params: Request['params'],
  req: Request,
  res: Response,
  countStranger: () => number | null,
): Look | null {
  const status = res.headersSent ? res.statusCode : 0;
  const { caller, actor = caller, refused, looked } = localsOf(res);
  if (refused !== undefined || REFUSALS.includes(status)) {
    return refusalOf(route, req, res, countStranger);
  }
  const { audit: spec = {} } = route;
  if (actor === undefined || spec === 'none' || isLeftToActs(spec, status)) return null;
  const verb = route.method === 'get' ? 'read' : 'write';
  return {
    clientKey: actor.clientKey,
    person: actor.person,
    action: spec.action ?? `${area.name.replaceAll(' ', '-')}-${verb}`,
    outcome: status,
    entity: entityOf(route, spec, params),
    ...looked,
    query: queryOf(route, req, looked),
  };
}

/**
 * Takes each request of a route down when its answer is over.
 * @param countStranger see {@link createStrangerTally}
 */
export function auditRequests(
  area: Area,
  route: Route,
  record: RecordLook,
  countStranger: () => number | null,
): RequestHandler {
  return (req, res, next) => {
    // Once a handler has failed, the router takes them back.
    const { params } = req;
    res.once('close', () => {
      const look = lookOf(area, route, params, req, res, countStranger);
      if (look === null) return;
      const { requestId = null } = localsOf(res);
      record({ ...look, origin: { requestId, address: req.ip ?? null } });
    });
    next();
  };
}
