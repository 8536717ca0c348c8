/** The gateway put together over one database: pipeline, scheduler, HTTP. The composition root builds it once. */
import type { Pool } from './store/pool.js';
import type { Logger } from 'pino';
import type { Config } from './config.js';
import { describeRules } from './describe-rules.js';
import { deliveryServices } from './fhir-deliveries.js';
import { compareSecondIdentifiers } from './rules/identifiers.js';
import { listenForMessages } from './hl7-listener.js';
import type { Hl7Listener } from './intake/hl7v2/listener.js';
import { composeStages } from './judging.js';
import type { Stages } from './judging.js';
import { outsideOf } from './outside-access.js';
import { Pipeline } from './pipeline.js';
import { receiveReferenceCheck } from './reference-checks.js';
import { composeRegistry } from './registry.js';
import { Scheduler } from './scheduler.js';
import { createApp } from './serve/app.js';
import { fhirArea } from './serve/fhir/routes.js';
import { describeError } from './serve/http/describe-error.js';
import { startHttpServer } from './serve/http/listen.js';
import type { Area } from './serve/http/route.js';
import { MOST_DEVICE_CLOCKS } from './serve/operations/device-clock-gauge.js';
import { createMetrics } from './serve/operations/metrics.js';
import type { Metrics } from './serve/operations/metrics.js';
import { reviewArea } from './serve/review/routes.js';
import { referenceArea } from './serve/rules/reference-routes.js';
import { rulesArea } from './serve/rules/routes.js';
import { listRegisteredClocks } from './store/device-clocks.js';
import { EditionShelf } from './store/edition-shelf.js';
import { readFeedTimes } from './store/feed-state.js';
import { Names } from './store/names.js';
import { SourceDirectory } from './store/source-directory.js';
import { RuleTally } from './store/rule-counts.js';
import type { SourceTally } from './store/source-health.js';
import { Trials } from './trials.js';
import { allowedActions } from './verdict/decision-table.js';
import { composeWiring } from './wiring.js';
import type { Wiring } from './wiring.js';

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

function pipelineEvents(
  metrics: Metrics,
  tally: RuleTally,
  sources: SourceTally,
): ConstructorParameters<typeof Pipeline>[0]['events'] {
  return {
    countSubmission: metrics.countSubmission,
    observeCommit: metrics.observeCommit,
    countJudged(judged, sourceKey) {
      sources.count(
        sourceKey,
        judged.readings.map(({ verdict }) => verdict),
      );
      for (const reading of judged.readings) metrics.countReading(reading.verdict);
      for (const finding of judged.findings) {
        metrics.countFinding(finding.rule);
        tally.count(finding.rule);
      }
    },
  };
}

/** Judging, with what it tells metrics and log. */
function stagesOf(config: Config, editions: EditionShelf, metrics: Metrics, log: Logger): Stages {
  return composeStages({
    editions,
    holdMinutes: { value: config.holdMinutes, unit: config.holdMinutesUnit },
    onRuleFailure(rule, error) {
      metrics.countRuleFailure(rule);
      log.error({ rule, error: describeError(error) }, 'a rule failed');
    },
    onSlowRule(rule, tookMs) {
      metrics.countSlowRule(rule);
      log.warn({ rule, tookMs: Math.round(tookMs) }, 'a rule took too long');
    },
  });
}

/** What the areas are made of. */
interface Parts {
  readonly pool: Pool;
  readonly readers: Pool;
  readonly names: Names;
  readonly stages: Stages;
  readonly sources: SourceDirectory;
  readonly editions: EditionShelf;
  readonly pipeline: Pipeline;
  readonly trials: Trials;
  readonly replay: Wiring['replay'];
  readonly onPatientsChanged: () => void;
}

/** The areas that need more than a database and the pipeline. */
function makeAreas(parts: Parts, publicUrl: string, siteZone: string): Area[] {
  const { pool, readers, names, stages, sources, editions, pipeline, trials } = parts;
  const { replay, onPatientsChanged } = parts;
  const ruleServices = { pool, names, editions, clock: Date.now };
  return [
    fhirArea({
      pool: readers,
      publicUrl,
      siteZone,
      onRegistered: onPatientsChanged,
      deliveries: deliveryServices({ pool, names, stages, pipeline, sources, clock: Date.now }),
    }),
    reviewArea({ pool: readers, names, pipeline, allowedActions, replay, onPatientsChanged }),
    rulesArea({ ...ruleServices, trials, describeRules }),
    referenceArea({ pool, names, receive: (one) => receiveReferenceCheck(ruleServices, one) }),
  ];
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
  const metrics = createMetrics(
    () => readFeedTimes(pool),
    () => listRegisteredClocks(pool, MOST_DEVICE_CLOCKS),
  );
  const names = new Names(pool);
  const registry = composeRegistry(pool, names);
  const editions = new EditionShelf();
  const tally = new RuleTally(pool);
  const stages = stagesOf(config, editions, metrics, log);
  const events = pipelineEvents(metrics, tally, registry.sourceTally);
  const pipelineAt = (clock: () => number): Pipeline =>
    new Pipeline({ pool, names, stages, events, clock });
  const pipeline = pipelineAt(Date.now);
  const reportFailure = (sentence: string) => (error: unknown) => {
    log.warn({ error: describeError(error) }, sentence);
  };
  const onFailure = reportFailure('the scheduler failed');
  const gathered = [tally, registry.sourceTally, registry.sourceClocks];
  const scheduler = new Scheduler({ pool, names, stages, gathered, onFailure });
  const trials = new Trials({
    pool: readers,
    names,
    stages,
    onFailure: reportFailure('a trial failed'),
  });
  const outside = outsideOf(config);
  const onPatientsChanged = (): void => {
    scheduler.kick();
  };
  const { siteZone } = config;
  const { directory, sourceClocks } = registry;
  const wiring = composeWiring({ pool, names, stages, directory, siteZone, clock: Date.now });
  const { replay } = wiring;
  const parts = {
    ...{ pool, readers, names, stages, sources: directory, editions, pipeline, trials },
    ...{ replay, onPatientsChanged },
  };
  const createListener = (publicUrl: string): ReturnType<typeof createApp> =>
    createApp({
      ...config,
      ...outside,
      ...{ pool, pipeline, metrics, log, publicUrl },
      areas: makeAreas(parts, publicUrl, config.siteZone),
      adminRoutes: [...registry.routes, wiring.trialRoute],
    });
  let stopHttp: (() => Promise<void>) | undefined;
  let listener: Hl7Listener | null = null;
  return {
    pipelineAt,
    async listen() {
      const urlAt = (port: number): string => config.publicUrl ?? `http://127.0.0.1:${port}`;
      const http = await startHttpServer((port) => createListener(urlAt(port)), config);
      stopHttp = http.stop;
      scheduler.start();
      return { port: http.port, publicUrl: urlAt(http.port) };
    },
    async listenForMessages() {
      const services = {
        ...{ pool, names, stages, pipeline, directory, sourceClocks, onPatientsChanged },
        compareIdentity: compareSecondIdentifiers,
        siteZone,
        clock: Date.now,
        countMessage: metrics.countMessage,
      };
      listener = await listenForMessages(config, services, metrics, log);
      return listener?.port ?? null;
    },
    async stop() {
      await trials.stop();
      await listener?.stop();
      await stopHttp?.();
      await pipeline.drain();
      await scheduler.stop();
    },
  };
}
