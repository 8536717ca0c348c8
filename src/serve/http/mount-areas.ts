import type { NextFunction, Request, RequestHandler, Response, Router } from 'express';
import type { Identify } from '../auth/identify.js';
import { hasNarrowedScope, hasScope } from '../auth/scopes.js';
import type { Scope } from '../auth/scopes.js';
import { auditRequests } from './audit-requests.js';
import type { RecordLook } from './audit-requests.js';
import { checkCsrf, guardSession } from './guard-session.js';
import type { FindSignedIn } from './guard-session.js';
import { HttpError } from './http-error.js';
import { localsOf } from './locals.js';
import { readBody } from './read-body.js';
import { createStrangerTally } from './stranger-tally.js';
import type { Area, Caller, GuardedRoute, RateClass, Route } from './route.js';

/** What stands before every handler. */
export interface Guards {
  readonly identify: Identify;
  readonly findSignedIn: FindSignedIn;
  readonly limits: Readonly<Record<Exclude<RateClass, 'none'>, RequestHandler>>;
  /** For the audit trail. */
  readonly record: RecordLook;
}

/** RFC 6750 §3.1 asks for the scopes that would do. */
function forbidden(route: GuardedRoute): HttpError {
  return new HttpError({
    status: 403,
    detail: `This needs the scope ${route.scopes.join(route.needsAll ? ' and ' : ' or ')}.`,
    headers: {
      'WWW-Authenticate': `Bearer error="insufficient_scope", scope="${route.scopes.join(' ')}"`,
    },
  });
}

function suffices(route: GuardedRoute, granted: readonly string[]): boolean {
  const held = (scope: Scope): boolean =>
    route.narrowed ? hasNarrowedScope(granted, scope) : hasScope(granted, scope);
  return route.needsAll ? route.scopes.every(held) : route.scopes.some(held);
}

/** Lets a request pass whose token has what the route asks for. */
function guard(route: GuardedRoute, { identify }: Guards): RequestHandler {
  return async (req: Request, res: Response, next: NextFunction) => {
    const locals = localsOf(res);
    let caller: Caller;
    try {
      const identified = identify(req.headers.authorization);
      caller = identified instanceof Promise ? await identified : identified;
    } catch (error) {
      if (error instanceof HttpError) locals.refused = { clientKey: error.clientKey };
      throw error;
    }
    const { requestId = null } = locals;
    locals.caller = { ...caller, origin: { requestId, address: req.ip ?? null } };
    res.setHeader('Cache-Control', 'no-store');
    if (!suffices(route, caller.scopes)) throw forbidden(route);
    next();
  };
}

function nobodyGuards({ method, path }: Route): Error {
  return new Error(`nobody guards ${method} ${path}`);
}

function handle(route: Route): RequestHandler {
  if (route.scopes === 'public') return (req, res) => route.handler(req, res);
  if (route.by === 'session') {
    return (req, res) => {
      const { signedIn } = localsOf(res);
      if (signedIn === undefined) throw nobodyGuards(route);
      return route.handler(req, res, signedIn);
    };
  }
  return (req, res) => {
    const { caller } = localsOf(res);
    if (caller === undefined) throw nobodyGuards(route);
    return route.handler(req, res, caller);
  };
}

function guardsOf(route: Route, guards: Guards): RequestHandler[] {
  if (route.scopes === 'public') return [];
  if (route.by === 'session') return [guardSession(route, guards.findSignedIn)];
  return [guard(route, guards)];
}

/** The handlers of one route in their order: who, how often, what, and then the route's own. */
function stepsOf(
  area: Area,
  route: Route,
  guards: Guards,
  audit: (area: Area, route: Route) => RequestHandler,
): RequestHandler[] {
  const rateClass = route.rateClass ?? 'general';
  return [
    audit(area, route),
    ...guardsOf(route, guards),
    ...(rateClass === 'none' ? [] : [guards.limits[rateClass]]),
    ...(route.body === undefined ? [] : [readBody(route.body)]),
    ...(route.by === 'session' ? [checkCsrf] : []),
    handle(route),
  ];
}

/** Answers what no route took: 405 with the methods of the path if there are any, else 404. */
function mountRest(router: Router, routes: readonly Route[]): void {
  for (const path of new Set(routes.map((route) => route.path))) {
    const methods = routes
      .filter((route) => route.path === path)
      .flatMap(({ method }) => (method === 'get' ? ['GET', 'HEAD'] : [method.toUpperCase()]));
    router.all(path, (_req, res, next) => {
      const locals = localsOf(res);
      locals.allowed = new Set([...(locals.allowed ?? []), ...methods]);
      next();
    });
  }
  router.use((_req, res) => {
    const { allowed } = localsOf(res);
    if (allowed === undefined)
      throw new HttpError({ status: 404, detail: 'There is no such path.' });
    const allow = [...allowed].join(', ');
    const detail = `This path takes ${allow} only.`;
    throw new HttpError({ status: 405, detail, headers: { Allow: allow } });
  });
}

/** Mounts the routes of all areas. No route is reachable that is not in a list, and none unguarded. */
export function mountAreas(router: Router, areas: readonly Area[], guards: Guards): void {
  const countStranger = createStrangerTally();
  const audit = (area: Area, route: Route): RequestHandler =>
    auditRequests(area, route, guards.record, countStranger);
  for (const area of areas) {
    for (const route of area.routes) {
      router[route.method](route.path, ...stepsOf(area, route, guards, audit));
    }
  }
  mountRest(
    router,
    areas.flatMap((area) => area.routes),
  );
}
