/** Starts the gateway and stops it in reverse order. Whatever keeps it from starting is told in one sentence. */
import { pino } from 'pino';
import type { Logger } from 'pino';
import { readConfig } from './config/config.js';
import type { Config } from './config/config.js';
import { prepareDemoPeople } from './demo/demo-people.js';
import { prepareDemo } from './demo/prepare-demo.js';
import { StartError } from './errors.js';
import { createGateway } from './compose/gateway.js';
import { describeError } from './serve/http/describe-error.js';
import { startEmbeddedServer } from './store/embedded/server.js';
import { migrate, requireMigrated } from './store/migrate.js';
import { openPool } from './store/pool.js';
import type { Pool } from './store/pool.js';

/** For batches under way, decisions, tokens and the scheduler; several processes share one server. */
const COMMIT_CONNECTIONS = 8;
/** For searches, lists, histories and trials. */
const READ_CONNECTIONS = 6;

/** What has been started, last first when it is to be stopped. */
type Stops = (() => Promise<void>)[];

async function openDatabase(config: Config, log: Logger, stops: Stops): Promise<string> {
  if (config.databaseUrl !== undefined) {
    await requireMigrated(config.databaseUrl, config.databaseSchema);
    return config.databaseUrl;
  }
  const server = await startEmbeddedServer(config.dataDir, (sentence) => {
    log.warn(sentence);
  });
  stops.push(server.stop);
  await migrate(server.databaseUrl, config.databaseSchema);
  return server.databaseUrl;
}

async function start(config: Config, log: Logger, stops: Stops): Promise<void> {
  const databaseUrl = await openDatabase(config, log, stops);
  const open = (maxConnections: number): Pool => {
    const pool = openPool({ databaseUrl, schema: config.databaseSchema, maxConnections });
    stops.push(() => pool.end());
    return pool;
  };
  const pool = open(COMMIT_CONNECTIONS);
  const gateway = createGateway(config, pool, log, open(READ_CONNECTIONS));
  stops.push(() => gateway.stop());
  const demo =
    config.databaseUrl === undefined
      ? await prepareDemo({ pool, dataDir: config.dataDir, pipelineAt: gateway.pipelineAt })
      : null;
  const peopleFile =
    config.databaseUrl === undefined ? await prepareDemoPeople(pool, config.dataDir) : null;
  const { publicUrl } = await gateway.listen();
  const mllpPort = await gateway.listenForMessages();
  log.info({ url: publicUrl }, 'the gateway is ready');
  process.stdout.write(
    [
      `Vital-sign gateway at ${publicUrl}`,
      `  sets       POST ${publicUrl}/sets`,
      `  FHIR R4    ${publicUrl}/fhir`,
      ...(mllpPort === null ? [] : [`  HL7 v2     mllp://${config.host}:${mllpPort}`]),
      `  review     ${publicUrl}/review/readings`,
      `  desk       ${publicUrl}/desk`,
      `  interface  ${publicUrl}/docs`,
      ...(demo === null ? [] : [`  demo ward  credentials in ${demo.credentialsFile}`]),
      ...(peopleFile === null ? [] : [`  its people passwords in ${peopleFile}`]),
      'Not for monitoring or alarms. Stop it with Ctrl-C.',
      '',
    ].join('\n'),
  );
}

async function stopAll(stops: Stops, log: Logger): Promise<void> {
  for (const stop of stops.reverse()) {
    await stop().catch((error: unknown) => {
      log.error({ error: describeError(error) }, 'stopping failed');
    });
  }
}

async function main(): Promise<void> {
  const stops: Stops = [];
  let log = pino({ level: 'silent' });
  let starting: Promise<void> = Promise.resolve();
  let ending: Promise<void> | undefined;
  // What is being started must be there before it can be stopped: a server half begun would live on.
  const end = (code: number): void => {
    ending ??= starting
      .catch(() => undefined)
      .then(() => stopAll(stops, log))
      .then(() => {
        log.flush();
        process.exit(code);
      });
  };
  // A second Ctrl-C while stopping changes nothing: the database is being closed properly.
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) {
    process.on(signal, () => {
      end(0);
    });
  }
  process.on('unhandledRejection', (error) => {
    log.error({ error: describeError(error) }, 'a rejection was not handled');
  });
  try {
    const config = readConfig(process.env);
    log = openLog(config);
    starting = start(config, log, stops);
    await starting;
  } catch (error) {
    if (error instanceof StartError) process.stderr.write(`${error.message}\n`);
    else process.stderr.write(`The gateway cannot start: ${stackOf(error)}\n`);
    end(1);
  }
}

/** Lines are gathered for a quarter of a second: one system call a request would cost more than the line. */
function openLog({ logLevel }: Config): Logger {
  return pino(
    { level: logLevel },
    pino.destination({ sync: false, minLength: 4096, periodicFlush: 250 }),
  );
}

function stackOf(error: unknown): string {
  return error instanceof Error ? (error.stack ?? error.message) : String(error);
}

await main();
