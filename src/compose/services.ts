/** The services of one gateway over one database: everything that listens to nobody. */
import type { Logger } from 'pino';
import { composeAudit } from './compose-audit.js';
import { composeExports } from './compose-exports.js';
import type { Exports } from './compose-exports.js';
import { composeSubscriptions } from './compose-subscriptions.js';
import type { Subscriptions } from './compose-subscriptions.js';
import type { Config } from '../config/config.js';
import { composeStages } from '../judging.js';
import type { Stages } from '../judging.js';
import type { Subscribers } from './outside-access.js';
import { Pipeline } from '../pipeline.js';
import { composeRegistry } from './registry.js';
import type { Registry } from './registry.js';
import { Scheduler } from '../background/scheduler.js';
import { describeError } from '../serve/http/describe-error.js';
import { MOST_DEVICE_CLOCKS } from '../serve/operations/device-clock-gauge.js';
import { createMetrics } from '../serve/operations/metrics.js';
import type { Metrics } from '../serve/operations/metrics.js';
import { addSubscriptionMetrics } from '../serve/operations/subscription-metrics.js';
import type { AuditTrail } from '../store/audit-trail.js';
import { listRegisteredClocks } from '../store/device-clocks.js';
import { EditionShelf } from '../store/edition-shelf.js';
import { readFeedTimes } from '../store/feed-state.js';
import { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import { RuleTally } from '../store/rule-counts.js';
import { readSubscriptionFigures } from '../store/subscription-figures.js';
import { Trials } from '../trials/trials.js';
import { composeWiring } from './wiring.js';
import type { Wiring } from './wiring.js';

export interface Services {
  readonly pool: Pool;
  /** Connections of searches, lists and trials. */
  readonly readers: Pool;
  readonly metrics: Metrics;
  readonly names: Names;
  readonly audit: AuditTrail;
  readonly registry: Registry;
  readonly editions: EditionShelf;
  readonly stages: Stages;
  readonly pipelineAt: (clock: () => number) => Pipeline;
  readonly pipeline: Pipeline;
  readonly scheduler: Scheduler;
  readonly trials: Trials;
  readonly wiring: Wiring;
  readonly exports: Exports;
  readonly subscriptions: Subscriptions;
  /** Sets that wait for a patient may go on. */
  readonly onPatientsChanged: () => void;
}

function pipelineEvents(
  metrics: Metrics,
  tally: RuleTally,
  { sourceTally, deviceTally }: Registry,
  names: Names,
  onPublished: () => void,
): ConstructorParameters<typeof Pipeline>[0]['events'] {
  return {
    countSubmission: metrics.countSubmission,
    observeCommit(sets, seconds) {
      metrics.observeCommit(sets, seconds);
      onPublished();
    },
    countJudged(judged, sourceKey) {
      sourceTally.count(
        sourceKey,
        judged.readings.map(({ verdict }) => verdict),
      );
      for (const { reading, verdict } of judged.readings) {
        metrics.countReading(verdict);
        const deviceKey = names.device(reading.device);
        if (deviceKey !== null) deviceTally.count(deviceKey, [verdict]);
      }
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

/** Puts the services together; nothing is scheduled yet. */
export function composeServices(
  config: Config,
  { pool, readers }: { readonly pool: Pool; readonly readers: Pool },
  log: Logger,
  subscribers: Subscribers,
): Services {
  const metrics = createMetrics(
    () => readFeedTimes(pool),
    () => listRegisteredClocks(pool, MOST_DEVICE_CLOCKS),
  );
  const names = new Names(pool);
  const audit = composeAudit({ pool, readers, names }, metrics, log);
  const registry = composeRegistry(pool, names);
  const editions = new EditionShelf();
  const tally = new RuleTally(pool);
  const stages = stagesOf(config, editions, metrics, log);
  const { siteZone } = config;
  const reportFailure = (sentence: string) => (error: unknown) => {
    log.warn({ error: describeError(error) }, sentence);
  };
  const subscriptions = composeSubscriptions({
    ...{ pool, readers, siteZone, subscribers, clock: Date.now },
    countNotification: addSubscriptionMetrics(metrics.registry, () =>
      readSubscriptionFigures(pool),
    ),
    onFailure: reportFailure('the work on a subscription failed'),
  });
  const { onPublished } = subscriptions;
  const events = pipelineEvents(metrics, tally, registry, names, onPublished);
  const pipelineAt = (clock: () => number): Pipeline =>
    new Pipeline({ pool, names, stages, events, clock });
  const onFailure = reportFailure('the scheduler failed');
  const gathered = [tally, registry.sourceTally, registry.deviceTally, registry.sourceClocks];
  const scheduler = new Scheduler({ pool, names, stages, gathered, onFailure });
  const { directory } = registry;
  return {
    ...{ pool, readers, metrics, names, audit, registry, editions, stages, pipelineAt, scheduler },
    pipeline: pipelineAt(Date.now),
    trials: new Trials({
      ...{ pool: readers, names, stages },
      onFailure: reportFailure('a trial failed'),
    }),
    wiring: composeWiring({ pool, names, stages, directory, siteZone, clock: Date.now }),
    exports: composeExports({
      ...{ pool, readers, siteZone, clock: Date.now },
      onFailure: reportFailure('an export failed'),
    }),
    subscriptions,
    onPatientsChanged() {
      scheduler.kick();
    },
  };
}
