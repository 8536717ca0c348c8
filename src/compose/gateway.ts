/** The gateway put together over one database: pipeline, scheduler, HTTP. The composition root builds it once. */
import type { Pool } from '../store/pool.js';
import type { Logger } from 'pino';
import type { Config } from '../config/config.js';
import { describeRules } from '../site-rules/describe-rules.js';
import { providerOf } from './compose-sign-in.js';
import { deliveryServices } from './fhir-deliveries.js';
import { compareSecondIdentifiers } from '../rules/identifiers.js';
import { listenForMessages } from './hl7-listener.js';
import type { Hl7Listener } from '../intake/hl7v2/listener.js';
import { outsideOf } from './outside-access.js';
import type { Pipeline } from '../pipeline.js';
import { receiveReferenceCheck } from '../reference-checks.js';
import { subscriptionListRoute } from '../serve/admin/subscription-route.js';
import { createApp } from '../serve/app.js';
import type { BedsideServices } from '../serve/bedside/services.js';
import { deskServices, followHeld, reviewServices } from './desk-services.js';
import type { HeldFeed } from '../serve/desk/held/feed.js';
import { deskArea } from '../serve/desk/routes.js';
import { fhirArea } from '../serve/fhir/routes.js';
import { startHttpServer } from '../serve/http/listen.js';
import type { Area, Route } from '../serve/http/route.js';
import { reviewArea } from '../serve/review/routes.js';
import { referenceArea } from '../serve/rules/reference-routes.js';
import { rulesArea } from '../serve/rules/routes.js';
import { composeServices } from './services.js';
import type { Services } from './services.js';

export interface Gateway {
  /** A pipeline whose times of receipt come from this clock (ms since the epoch): for sets of another day. */
  readonly pipelineAt: (clock: () => number) => Pipeline;
  /** Listens; resolves with the port and the base of every link. */
  listen(): Promise<{ readonly port: number; readonly publicUrl: string }>;
  /** Listens for HL7 v2; resolves with the port, or null where the configuration wants no listener. */
  listenForMessages(): Promise<number | null>;
  /** The reverse of starting: no more requests, those in flight finish, then the work ends. */
  stop(): Promise<void>;
}

/** The areas that need more than a database and the pipeline. */
function makeAreas(
  services: Services,
  feed: HeldFeed,
  publicUrl: string,
  siteZone: string,
): Area[] {
  const { pool, readers, names, stages, editions, pipeline, trials, onPatientsChanged } = services;
  const { directory: sources } = services.registry;
  const ruleServices = { pool, names, editions, clock: Date.now };
  return [
    services.exports.areaAt(publicUrl),
    fhirArea({
      pool: readers,
      publicUrl,
      siteZone,
      onRegistered: onPatientsChanged,
      deliveries: deliveryServices({ pool, names, stages, pipeline, sources, clock: Date.now }),
      subscriptions: services.subscriptions.routeServices,
    }),
    reviewArea(reviewServices(services)),
    deskArea(deskServices(services, feed, siteZone)),
    rulesArea({ ...ruleServices, trials, describeRules }),
    referenceArea({ pool, names, receive: (one) => receiveReferenceCheck(ruleServices, one) }),
  ];
}

function adminRoutesOf({ registry, wiring, readers }: Services): Route[] {
  return [...registry.routes, wiring.trialRoute, subscriptionListRoute({ pool: readers })];
}

function bedsideOf(
  config: Config,
  { readers, editions }: Services,
): Omit<BedsideServices, 'vouchers'> {
  return {
    ...{ pool: readers, editions, clock: Date.now },
    site: {
      zone: config.siteZone,
      units: config.bedsideUnits,
      identifierKinds: config.patientIdentifiers,
      idleMinutes: config.bedsideIdleMinutes,
    },
  };
}

/**
 * Puts the parts together; nothing listens and nothing is scheduled yet.
 * @param readers connections of searches, lists and trials, apart from those that commit sets: a hundred
 *   readers at once must not keep a critical value waiting
 */
export function createGateway(
  config: Config,
  pool: Pool,
  log: Logger,
  readers: Pool = pool,
): Gateway {
  const outside = outsideOf(config);
  const services = composeServices(config, { pool, readers }, log, outside.subscribers);
  const { metrics, audit, pipelineAt, pipeline, scheduler, trials } = services;
  const { registry, exports, subscriptions } = services;
  const feed = followHeld(readers, log);
  const createListener = (publicUrl: string): ReturnType<typeof createApp> =>
    createApp({
      ...config,
      ...outside,
      ...{ pool, pipeline, metrics, audit, log, publicUrl },
      bedside: bedsideOf(config, services),
      provider: providerOf(config, outside.fetchFromProvider, publicUrl),
      areas: makeAreas(services, feed, publicUrl, config.siteZone),
      adminRoutes: adminRoutesOf(services),
    });
  const urlAt = (port: number): string => config.publicUrl ?? `http://127.0.0.1:${port}`;
  let stopHttp: (() => Promise<void>) | undefined;
  let listener: Hl7Listener | null = null;
  return {
    pipelineAt,
    async listen() {
      const http = await startHttpServer((port) => createListener(urlAt(port)), config);
      stopHttp = http.stop;
      audit.start();
      scheduler.start();
      exports.start(urlAt(http.port));
      subscriptions.start(urlAt(http.port));
      return { port: http.port, publicUrl: urlAt(http.port) };
    },
    async listenForMessages() {
      const { directory, sourceClocks } = registry;
      const messages = {
        ...{ ...services, directory, sourceClocks },
        ...{ compareIdentity: compareSecondIdentifiers, countMessage: metrics.countMessage },
        ...{ siteZone: config.siteZone, clock: Date.now },
      };
      listener = await listenForMessages(config, messages, metrics, log);
      return listener?.port ?? null;
    },
    async stop() {
      await trials.stop();
      await listener?.stop();
      feed.stop();
      await stopHttp?.();
      await exports.stop();
      await subscriptions.stop();
      await pipeline.drain();
      await scheduler.stop();
      await audit.stop();
    },
  };
}
