import { parse as parseQuery } from 'node:querystring';
import express from 'express';
import type { Express, NextFunction, Request, Response } from 'express';
import helmet from 'helmet';
import type { Logger } from 'pino';
import { recordAudit } from '../store/audit.js';
import type { AuditEntry } from '../store/audit.js';
import { findClient } from '../store/clients.js';
import type { Pool } from '../store/pool.js';
import { probeDatabase } from '../store/probe.js';
import { ensureSigningKey, listSigningKeys } from '../store/signing-keys.js';
import { VERSION } from '../version.js';
import { adminClientRoutes } from './auth/admin-clients.js';
import { createClientCache } from './auth/client-cache.js';
import { createFailureLimit } from './auth/failure-limit.js';
import { createIdentify } from './auth/identify.js';
import { createKeyRing } from './auth/key-ring.js';
import { authArea } from './auth/routes.js';
import { describeError } from './http/describe-error.js';
import { HttpError } from './http/http-error.js';
import { mountAreas } from './http/mount-areas.js';
import { createRateLimits } from './http/rate-limits.js';
import { renderError } from './http/render-error.js';
import { noteRequests } from './http/request-log.js';
import type { Area, Caller, ErrorStyle, Route } from './http/route.js';
import type { Metrics } from './operations/metrics.js';
import { buildDocument } from './operations/openapi.js';
import { operationsArea } from './operations/routes.js';
import type { SetPipeline } from './sets/pipeline-port.js';
import { setsArea } from './sets/routes.js';

/** Token requests a minute from one address: many programs may stand behind it. */
const TOKEN_REQUESTS_PER_MINUTE = 1_200;

export interface AppServices {
  readonly pool: Pool;
  readonly pipeline: SetPipeline;
  readonly metrics: Metrics;
  readonly log: Logger;
  /** Base of every absolute link, and the audience of tokens. */
  readonly publicUrl: string;
  readonly tokenMinutes: number;
  readonly rateLimitPerMinute: number;
  readonly trustedProxies: readonly string[];
  /** The areas that are not built here. */
  readonly areas: readonly Area[];
  /** The routes under /admin that are not built here. */
  readonly adminRoutes: readonly Route[];
}

/** Percent signs that stand for nothing make an address that no route can read. */
function refuseMalformedAddress(req: Request, _res: Response, next: NextFunction): void {
  if (req.url.includes('%')) {
    try {
      decodeURIComponent(req.url);
    } catch {
      throw new HttpError({ status: 400, detail: 'The address is not percent-encoded UTF-8.' });
    }
  }
  next();
}

/** The error style of an address: that of the area with the longest prefix that it starts with. */
function styleByPrefix(areas: readonly Area[]): (req: Request) => ErrorStyle {
  const sorted = [...areas].sort((a, b) => b.prefix.length - a.prefix.length);
  return (req) => {
    const area = sorted.find(
      ({ prefix }) => req.path === prefix || req.path.startsWith(`${prefix}/`),
    );
    return area?.errorStyle ?? 'problem';
  };
}

function createAccess(services: AppServices) {
  const { pool, publicUrl } = services;
  const keys = createKeyRing({
    list: () => listSigningKeys(pool),
    ensure: (makeKey) => ensureSigningKey(pool, makeKey),
  });
  const clients = createClientCache((clientId) => findClient(pool, clientId));
  return { keys, clients, identify: createIdentify(keys, clients, publicUrl) };
}

type Access = ReturnType<typeof createAccess>;

/** All areas, whoever built them: the one list that is mounted, guarded and published. */
function joinAreas(services: AppServices, { keys, clients }: Access): Area[] {
  const { pool, pipeline, metrics, log, publicUrl, tokenMinutes } = services;
  const audit = (entry: AuditEntry): Promise<void> => recordAudit(pool, entry);
  const logFailure = (error: unknown): void => {
    log.error({ error: describeError(error) }, 'a streamed line failed');
  };
  const areas: Area[] = [
    setsArea(pipeline, { countRefusedLine: metrics.countRefusedLine, logFailure }),
    ...services.areas,
    {
      name: 'admin',
      description: 'Registration of clients, sources, devices and whose they are',
      prefix: '/admin',
      errorStyle: 'problem',
      routes: [...adminClientRoutes({ pool, clients, audit }), ...services.adminRoutes],
    },
    authArea({
      keys,
      findClient: (clientId) => findClient(pool, clientId),
      publicUrl,
      tokenMinutes,
      failures: createFailureLimit(),
    }),
  ];
  let document: object | undefined;
  areas.push(
    operationsArea({
      metrics,
      probe: () => probeDatabase(pool),
      document: () => (document ??= buildDocument(areas, { publicUrl, version: VERSION })),
    }),
  );
  return areas;
}

/** The HTTP application. It listens nowhere yet. */
export function createApp(services: AppServices): Express {
  const { metrics, log, pool, rateLimitPerMinute } = services;
  const access = createAccess(services);
  const areas = joinAreas(services, access);
  const app = express();
  app.disable('x-powered-by').disable('etag').set('trust proxy', services.trustedProxies);
  // Like "simple", but no parameter is dropped because there are many.
  app.set('query parser', (text: string) => parseQuery(text, '&', '=', { maxKeys: 0 }));
  app.use(noteRequests(log, metrics.observeRequest), helmet(), refuseMalformedAddress);
  mountAreas(app, areas, {
    identify: access.identify,
    limits: createRateLimits({
      generalPerMinute: rateLimitPerMinute,
      checkPerMinute: Math.ceil(rateLimitPerMinute / 10),
      tokenPerMinute: TOKEN_REQUESTS_PER_MINUTE,
    }),
    onForbidden(caller: Caller, route: Route) {
      const entity = `${route.method.toUpperCase()} ${route.path}`;
      const refused = { clientKey: caller.clientKey, action: 'refused', outcome: 403, entity };
      recordAudit(pool, refused).catch((error: unknown) => {
        log.error({ error: describeError(error) }, 'a refused access could not be audited');
      });
    },
  });
  app.use(renderError(styleByPrefix(areas)));
  return app;
}
