import { randomUUID } from 'node:crypto';
import type { Request, RequestHandler, Response } from 'express';
import type { Logger } from 'pino';
import { describeError } from './describe-error.js';
import { localsOf } from './locals.js';

/** Short, and nothing in it that could break a log line or a header. */
const SANE_ID = /^[A-Za-z0-9._-]{1,64}$/;

/** `route` is a pattern; `status` 0: the client left before an answer began. */
type Observe = (method: string, route: string, status: number, seconds: number) => void;

/** The id that ties a request to its log lines: the caller's own if it is sane. Returned as a header. */
function giveRequestId(req: Request, res: Response): string {
  const sent = req.headers['x-request-id'];
  const id = typeof sent === 'string' && SANE_ID.test(sent) ? sent : randomUUID();
  res.setHeader('X-Request-Id', id);
  localsOf(res).requestId = id;
  return id;
}

/** The pattern of the route that matched: addresses may hold what belongs in no log. */
function routeOf(req: Request): string {
  const { route } = req as { route?: { path?: unknown } };
  return typeof route?.path === 'string' ? route.path : 'none';
}

function writeLine(log: Logger, status: number, facts: object, message: string): void {
  if (status >= 500) log.error(facts, message);
  else if (status >= 400) log.warn(facts, message);
  else log.info(facts, message);
}

/**
 * Notes each request when its answer is over: one figure, and one log line by pattern, without query,
 * body, headers or address. Probes leave no line.
 */
export function noteRequests(log: Logger, observe: Observe): RequestHandler {
  return (req, res, next) => {
    const startMs = performance.now();
    const requestId = giveRequestId(req, res);
    res.once('close', () => {
      const ms = performance.now() - startMs;
      const { method } = req;
      const route = routeOf(req);
      const status = res.headersSent ? res.statusCode : 0;
      observe(method, route, status, ms / 1000);
      if (route.startsWith('/health/')) return;
      const { caller, failure } = localsOf(res);
      const facts = {
        ...{ requestId, method, route, status, ms: Math.round(ms * 10) / 10 },
        clientId: caller?.clientId,
        aborted: res.writableFinished ? undefined : true,
        error: failure === undefined ? undefined : describeError(failure),
      };
      writeLine(log, status, facts, `${method} ${route} ${status}`);
    });
    next();
  };
}
