import { collectDefaultMetrics, Counter, Gauge, Histogram, Registry } from 'prom-client';
import { askOnce } from './ask-once.js';
import { addDeviceClockGauge } from './device-clock-gauge.js';
import type { WatchedClock } from '../../store/device-clocks.js';
import type { FeedTimes } from '../../store/feed-state.js';
import { receivedAtMsOf } from '../../store/reading-rows.js';
import type { Verdict } from '../../vitals/words.js';

/** Counters as plain functions: who counts needs no metrics library. No label may hold a patient's data. */
export interface Metrics {
  readonly registry: Registry;
  /** By HTTP status of the answer, or `repeat`. */
  readonly countSubmission: (outcome: string) => void;
  readonly countReading: (verdict: Verdict) => void;
  readonly countFinding: (rule: string) => void;
  readonly countRuleFailure: (rule: string) => void;
  readonly countSlowRule: (rule: string) => void;
  /** One group commit: how many sets, and how long from taking them to the commit. */
  readonly observeCommit: (sets: number, seconds: number) => void;
  /** `route` is the pattern of the path, never the address that was asked for. */
  readonly observeRequest: (method: string, route: string, status: number, seconds: number) => void;
  /** HL7 v2 messages by what became of them. */
  readonly countMessage: (outcome: string) => void;
  /** What happens on the sockets of the HL7 v2 listener. */
  readonly observeMllp: (event: SocketEvent) => void;
  /** A read or search that is not in the audit trail, because too many waited to be written. */
  readonly countLostLook: () => void;
  /** A line of a streamed body that never reached the pipeline, or failed there. */
  readonly countRefusedLine: (status: number) => void;
}

/** As much of an event of the listener as is counted. */
export interface SocketEvent {
  readonly kind: string;
  readonly reason?: string;
  readonly bytes?: number;
}

const COMMIT_SIZES = [1, 2, 4, 8, 16, 32, 64, 128];
const COMMIT_SECONDS = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5];

function secondsBetween(fromMs: number | null, toMs: number): number {
  return fromMs === null ? 0 : Math.max(0, (toMs - fromMs) / 1000);
}

interface FeedFigure {
  readonly name: string;
  readonly help: string;
  readonly of: (feed: FeedTimes) => number;
}

const FEED_FIGURES: readonly FeedFigure[] = [
  {
    name: 'gateway_oldest_hold_age_seconds',
    help: 'Age of the oldest reading that waits for a decision; 0 when none waits',
    of: ({ oldestHeldId, nowMs }) =>
      secondsBetween(oldestHeldId === null ? null : receivedAtMsOf(oldestHeldId), nowMs),
  },
  {
    name: 'gateway_feed_lag_seconds',
    help: 'How long the most overdue hold has been past its deadline without going out',
    of: ({ earliestDeadlineMs, nowMs }) => secondsBetween(earliestDeadlineMs, nowMs),
  },
  {
    name: 'gateway_last_publication_timestamp_seconds',
    help: 'Stamp of the last commit that published something, since the epoch',
    of: ({ lastStampMs }) => lastStampMs / 1000,
  },
];

/** Gauges that one query of the database fills at each scrape. */
function addFeedGauges(registry: Registry, readFeed: () => Promise<FeedTimes>): void {
  const readOnce = askOnce(readFeed);
  for (const { name, help, of } of FEED_FIGURES) {
    new Gauge({
      name,
      help,
      registers: [registry],
      async collect() {
        // Without the database nobody knows; the other figures still matter.
        this.set(await readOnce().then(of, () => NaN));
      },
    });
  }
}

function makeCounters(registry: Registry) {
  const counter = <L extends string>(name: string, help: string, labelNames: L[]): Counter<L> =>
    new Counter({ name, help, labelNames, registers: [registry] });
  return {
    submissions: counter('gateway_submissions_total', 'Submissions kept, by answer', ['outcome']),
    readings: counter('gateway_readings_total', 'Readings judged, by verdict', ['verdict']),
    findings: counter('gateway_findings_total', 'Findings, by rule', ['rule']),
    failures: counter('gateway_rule_failures_total', 'Rules that threw, by rule', ['rule']),
    slow: counter('gateway_slow_rules_total', 'Rules that took too long over a set, by rule', [
      'rule',
    ]),
    messages: counter('gateway_hl7_messages_total', 'HL7 v2 messages, by outcome', ['outcome']),
    mllpEvents: counter(
      'gateway_mllp_events_total',
      'Events on MLLP connections, by kind and reason',
      ['kind', 'reason'],
    ),
    looks: counter('gateway_audit_looks_lost_total', 'Reads and searches not on record', []),
    lines: counter('gateway_refused_lines_total', 'Lines of streamed bodies not kept', ['status']),
    requests: counter('gateway_http_requests_total', 'Requests answered, by status', [
      'method',
      'route',
      'status',
    ]),
  };
}

function makeHistograms(registry: Registry) {
  const registers = [registry];
  return {
    commitSets: new Histogram({
      name: 'gateway_commit_sets',
      help: 'Sets in one group commit',
      buckets: COMMIT_SIZES,
      registers,
    }),
    commitSeconds: new Histogram({
      name: 'gateway_commit_seconds',
      help: 'Duration of one group commit',
      buckets: COMMIT_SECONDS,
      registers,
    }),
    requestSeconds: new Histogram({
      name: 'gateway_http_request_seconds',
      help: 'Time from a request to the end of its answer, by route pattern',
      labelNames: ['method', 'route'],
      registers,
    }),
  };
}

/** The registry of this process. What is given to it is asked at each scrape. */
export function createMetrics(
  readFeed: () => Promise<FeedTimes>,
  readClocks: () => Promise<readonly WatchedClock[]> = () => Promise.resolve([]),
): Metrics {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  addFeedGauges(registry, readFeed);
  addDeviceClockGauge(registry, readClocks);
  const counters = makeCounters(registry);
  const { submissions, readings, findings, failures, slow, looks, lines, requests } = counters;
  const { messages, mllpEvents } = counters;
  const mllpConnections = new Gauge({
    name: 'gateway_mllp_connections',
    help: 'Open connections of the HL7 v2 listener',
    registers: [registry],
  });
  const { commitSets, commitSeconds, requestSeconds } = makeHistograms(registry);
  return {
    registry,
    countSubmission: (outcome) => {
      submissions.inc({ outcome });
    },
    countReading: (verdict) => {
      readings.inc({ verdict });
    },
    countFinding: (rule) => {
      findings.inc({ rule });
    },
    countRuleFailure: (rule) => {
      failures.inc({ rule });
    },
    countSlowRule: (rule) => {
      slow.inc({ rule });
    },
    countMessage: (outcome) => {
      messages.inc({ outcome });
    },
    observeMllp: ({ kind, reason = '' }) => {
      mllpEvents.inc({ kind, reason });
      if (kind === 'opened') mllpConnections.inc();
      if (kind === 'closed') mllpConnections.dec();
    },
    countLostLook: () => {
      looks.inc();
    },
    countRefusedLine: (status) => {
      lines.inc({ status });
    },
    observeCommit: (sets, seconds) => {
      commitSets.observe(sets);
      commitSeconds.observe(seconds);
    },
    observeRequest: (method, route, status, seconds) => {
      requests.inc({ method, route, status });
      requestSeconds.observe({ method, route }, seconds);
    },
  };
}
