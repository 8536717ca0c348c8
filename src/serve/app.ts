import { parse as parseQuery } from 'node:querystring';
import express from 'express';
import type { Express, NextFunction, Request, Response } from 'express';
import helmet from 'helmet';
import type { Logger } from 'pino';
import { recordAudit } from '../store/audit.js';
import type { AuditEntry } from '../store/audit.js';
import type { AuditTrail } from '../store/audit-trail.js';
import type { FetchOutside } from '../outside/fetch-outside.js';
import { findClient, findClientByExternalId } from '../store/clients.js';
import type { Pool } from '../store/pool.js';
import { probeDatabase } from '../store/probe.js';
import { ensureSigningKey, listSigningKeys } from '../store/signing-keys.js';
import { useAssertion } from '../store/used-assertions.js';
import { VERSION } from '../version.js';
import { adminClientRoutes } from './auth/admin-clients.js';
import { createClientCache } from './auth/client-cache.js';
import { createFailureLimit } from './auth/failure-limit.js';
import { createIdentify } from './auth/identify.js';
import type { TokenIssuer } from './auth/issue-token.js';
import { createKeyRing } from './auth/key-ring.js';
import type { KeyRing } from './auth/key-ring.js';
import { createKeySets } from './auth/key-sets.js';
import { createOutsideIssuer } from './auth/outside-issuer.js';
import { TOKEN_PATH } from './auth/paths.js';
import { authArea } from './auth/routes.js';
import { smartArea } from './auth/smart-configuration.js';
import { createCookieJar } from './http/cookies.js';
import { bedsideAreas } from './bedside/routes.js';
import type { BedsideServices } from './bedside/services.js';
import { createVouchers } from './bedside/vouchers.js';
import { describeError } from './http/describe-error.js';
import { HttpError } from './http/http-error.js';
import { mountAreas } from './http/mount-areas.js';
import { createRateLimits } from './http/rate-limits.js';
import { renderError } from './http/render-error.js';
import { noteRequests } from './http/request-log.js';
import type { Area, ErrorStyle, Route } from './http/route.js';
import type { Metrics } from './operations/metrics.js';
import { buildDocument } from './operations/openapi.js';
import type { OpenApiDocument } from './operations/openapi-document.js';
import { operationsArea } from './operations/routes.js';
import { assetsArea } from './pages/asset-routes.js';
import type { SetPipeline } from './sets/pipeline-port.js';
import { setsArea } from './sets/routes.js';
import { signInArea } from './signin/routes.js';
import { createProvider } from './signin/provider.js';
import type { ProviderSettings } from './signin/provider.js';
import type { ClaimSettings } from './signin/read-claims.js';
import type { SignInServices } from './signin/services.js';
import { createSessions } from './signin/sessions.js';

/** Token requests a minute from one address: many programs may stand behind it. */
const TOKEN_REQUESTS_PER_MINUTE = 1_200;
/** A person goes from bed to bed; nobody reads a list of numbers off the register. */
const LOOK_UPS_PER_MINUTE = 30;

export interface AppServices {
  readonly pool: Pool;
  readonly pipeline: SetPipeline;
  readonly metrics: Metrics;
  readonly audit: Pick<AuditTrail, 'record'>;
  readonly log: Logger;
  /** Base of every absolute link, and the audience of tokens. */
  readonly publicUrl: string;
  readonly tokenMinutes: number;
  readonly sessionIdleMinutes: number;
  readonly sessionHours: number;
  /** The people of the demo ward sign in by a password. */
  readonly localSignIn: boolean;
  readonly rateLimitPerMinute: number;
  readonly trustedProxies: readonly string[];
  /** The way out to addresses that clients were registered with. */
  readonly fetchOutside: FetchOutside;
  /** Another issuer whose tokens are taken, and the way to its host; null: there is none. */
  readonly authIssuer: { readonly url: string; readonly fetch: FetchOutside } | null;
  readonly bedside: Omit<BedsideServices, 'vouchers'>;
  /** The OpenID provider that people sign in with, and how its claims are read; null: there is none. */
  readonly provider: (ProviderSettings & ClaimSettings) | null;
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

/** The other issuer, if there is one, and the clients as it calls them. */
function createOutside({ pool, publicUrl, log, fetchOutside, authIssuer }: AppServices) {
  if (authIssuer === null) return null;
  const { url, fetch: fetchFromIssuer } = authIssuer;
  const issuer = createOutsideIssuer(
    { issuer: url, audience: publicUrl, fetchFromIssuer, fetch: fetchOutside },
    (reason) => {
      log.warn({ reason }, 'the keys of AUTH_ISSUER cannot be read');
    },
  );
  return { issuer, clients: createClientCache((name) => findClientByExternalId(pool, name)) };
}

function createAccess(services: AppServices) {
  const { pool, publicUrl } = services;
  const keys = createKeyRing({
    list: () => listSigningKeys(pool),
    ensure: (makeKey) => ensureSigningKey(pool, makeKey),
  });
  const clients = createClientCache((clientId) => findClient(pool, clientId));
  const outside = createOutside(services);
  const forget = (clientId: string): void => {
    clients.forget(clientId);
    outside?.clients.forgetAll();
  };
  const cookies = createCookieJar(publicUrl.startsWith('https:'));
  const sessions = createSessions({
    ...{ pool, clients, cookies },
    ...{ idleMinutes: services.sessionIdleMinutes, maxHours: services.sessionHours },
  });
  const identify = createIdentify({ keys, publicUrl, clients, outside });
  return { keys, forget, identify, sessions, cookies };
}

type Access = ReturnType<typeof createAccess>;

function tokenIssuerOf(services: AppServices, keys: KeyRing): TokenIssuer {
  const { pool, log, publicUrl, tokenMinutes, fetchOutside } = services;
  return {
    ...{ keys, publicUrl, tokenMinutes, tokenUrl: `${publicUrl}${TOKEN_PATH}` },
    findClient: (clientId) => findClient(pool, clientId),
    keySets: createKeySets(fetchOutside),
    useAssertion: (clientKey, jti, expiresAtMs) => useAssertion(pool, clientKey, jti, expiresAtMs),
    failures: createFailureLimit(),
    onRefused: (facts) => {
      log.warn(facts, 'a client was refused a token');
    },
  };
}

function signInServicesOf(services: AppServices, access: Access): SignInServices {
  const { provider: settings, log } = services;
  const { keys, sessions, cookies } = access;
  const provider =
    settings === null
      ? null
      : { provider: createProvider(settings), claims: settings, cookies, log };
  return { ...services, keys, sessions, failures: createFailureLimit(), provider };
}

/** All areas, whoever built them: the one list that is mounted, guarded and published. */
function joinAreas(services: AppServices, access: Access): Area[] {
  const { keys, forget } = access;
  const { pool, pipeline, metrics, log, publicUrl } = services;
  const audit = (entry: AuditEntry): Promise<void> => recordAudit(pool, entry);
  const logFailure = (error: unknown): void => {
    log.error({ error: describeError(error) }, 'a streamed line failed');
  };
  const vouchers = createVouchers(keys, publicUrl);
  const areas: Area[] = [
    setsArea(
      pipeline,
      { countRefusedLine: metrics.countRefusedLine, logFailure },
      vouchers.takerOf,
    ),
    ...bedsideAreas({ ...services.bedside, vouchers }),
    ...services.areas,
    {
      name: 'admin',
      description: 'Registration of clients, sources, devices and whose they are',
      prefix: '/admin',
      errorStyle: 'problem',
      routes: [...adminClientRoutes({ pool, forget, audit }), ...services.adminRoutes],
    },
    authArea(tokenIssuerOf(services, keys)),
    smartArea(publicUrl, () => areas),
    signInArea(signInServicesOf(services, access)),
    assetsArea,
  ];
  let document: OpenApiDocument | undefined;
  areas.push(
    operationsArea({
      metrics,
      probe: () => probeDatabase(pool),
      document: () =>
        (document ??= buildDocument(areas, {
          ...{ publicUrl, version: VERSION },
          outside: services.authIssuer?.url ?? null,
        })),
    }),
  );
  return areas;
}

/** The HTTP application. It listens nowhere yet. */
export function createApp(services: AppServices): Express {
  const { metrics, log, audit, rateLimitPerMinute } = services;
  const access = createAccess(services);
  const areas = joinAreas(services, access);
  const app = express();
  app.disable('x-powered-by').disable('etag').set('trust proxy', services.trustedProxies);
  // Like "simple", but no parameter is dropped because there are many.
  app.set('query parser', (text: string) => parseQuery(text, '&', '=', { maxKeys: 0 }));
  app.use(noteRequests(log, metrics.observeRequest), helmet(), refuseMalformedAddress);
  mountAreas(app, areas, {
    identify: access.identify,
    findSignedIn: access.sessions.findSignedIn,
    limits: createRateLimits({
      generalPerMinute: rateLimitPerMinute,
      checkPerMinute: Math.ceil(rateLimitPerMinute / 10),
      tokenPerMinute: TOKEN_REQUESTS_PER_MINUTE,
      lookUpPerMinute: LOOK_UPS_PER_MINUTE,
    }),
    record: (look) => {
      audit.record(look);
    },
  });
  app.use(renderError(styleByPrefix(areas)));
  return app;
}
