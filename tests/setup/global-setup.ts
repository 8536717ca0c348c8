import { execSync } from 'node:child_process';
import { randomBytes } from 'node:crypto';
import { mkdtemp, rm } from 'node:fs/promises';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { pathToFileURL } from 'node:url';
import pg from 'pg';
import type { startEmbeddedServer as StartEmbeddedServer } from '../../src/store/embedded/server.js';
import type { migrate as Migrate } from '../../src/store/migrate.js';

/** A PostgreSQL server for one run of the tests. */
interface TestServer {
  readonly url: string;
  readonly stop: () => Promise<void>;
}

const PING_MS = 2_000;
/** The image may have to be fetched first. */
const CONTAINER_MS = 90_000;

/**
 * Builds the gateway (some tests start it as a process), brings a PostgreSQL server up, and migrates
 * one template database there, which each test file clones: see `database.ts`.
 */
export default async function globalSetup({ rootDir }: { rootDir: string }): Promise<void> {
  execSync('npm run --silent build', { cwd: rootDir, stdio: 'inherit' });
  const run = `gateway_test_${randomBytes(4).toString('hex')}`;
  const starting = startServer(rootDir);
  let ending: Promise<void> | undefined;
  const end = (): Promise<void> => (ending ??= starting.then((server) => endServer(server, run)));
  globalThis.endTestServer = end;
  // When interrupted, the runner may or may not come to its teardown.
  for (const signal of ['SIGINT', 'SIGTERM'] as const) {
    process.once(signal, () => void end().finally(() => process.exit(1)));
  }
  const { url } = await starting;
  try {
    await makeTemplate(rootDir, url, `${run}_template`);
  } catch (error) {
    await end();
    throw error;
  }
  process.env.GATEWAY_TEST_SERVER = url;
  process.env.GATEWAY_TEST_RUN = run;
}

/** TEST_DATABASE_URL if it is set, else a container where Docker answers, else the embedded server. */
async function startServer(rootDir: string): Promise<TestServer> {
  const url = process.env.TEST_DATABASE_URL;
  if (url !== undefined && url !== '') return { url, stop: () => Promise.resolve() };
  if (await dockerAnswers()) {
    try {
      return await Promise.race([startContainer(), giveUpOnContainer()]);
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      console.warn(`Docker gave no PostgreSQL (${reason}): the tests use the embedded one.`);
    }
  }
  return startEmbedded(rootDir);
}

async function startContainer(): Promise<TestServer> {
  const { GenericContainer, Wait } = await import('testcontainers');
  const password = randomBytes(16).toString('hex');
  const container = await new GenericContainer('postgres:18')
    .withEnvironment({ POSTGRES_PASSWORD: password })
    .withCommand(['postgres', '-c', 'fsync=off'])
    .withExposedPorts(5432)
    // The image starts the server once for its own set-up, and then in earnest.
    .withWaitStrategy(Wait.forLogMessage('database system is ready to accept connections', 2))
    .start();
  const address = `${container.getHost()}:${container.getMappedPort(5432)}`;
  return {
    url: `postgres://postgres:${password}@${address}/postgres`,
    stop: async () => {
      await container.stop();
    },
  };
}

async function giveUpOnContainer(): Promise<never> {
  await sleep(CONTAINER_MS, undefined, { ref: false });
  throw new Error(`not ready within ${CONTAINER_MS / 1_000} s`);
}

async function startEmbedded(rootDir: string): Promise<TestServer> {
  const { startEmbeddedServer } = await importBuilt<{
    startEmbeddedServer: typeof StartEmbeddedServer;
  }>(rootDir, 'store/embedded/server.js');
  const folder = await mkdtemp(join(tmpdir(), 'gateway-test-'));
  const remove = () => rm(folder, { recursive: true, force: true });
  const server = await startEmbeddedServer(folder, console.warn).catch(async (error: unknown) => {
    await remove();
    throw error;
  });
  // Faster, and safe here: these data need not survive the machine's going down.
  await runOn(server.databaseUrl, 'alter system set fsync = off', 'select pg_reload_conf()');
  return {
    url: server.databaseUrl,
    stop: async () => {
      await server.stop();
      await remove();
    },
  };
}

async function dockerAnswers(): Promise<boolean> {
  const byDefault =
    process.platform === 'win32' ? '//./pipe/docker_engine' : '/var/run/docker.sock';
  const { DOCKER_HOST = `unix://${byDefault}` } = process.env;
  const { protocol, hostname, port, pathname } = new URL(DOCKER_HOST);
  const at = protocol === 'tcp:' ? { hostname, port } : { socketPath: pathname };
  return new Promise((resolve) => {
    request({ ...at, path: '/_ping', timeout: PING_MS }, (response) => {
      response.resume();
      resolve(response.statusCode === 200);
    })
      .on('timeout', () => {
        resolve(false);
      })
      .on('error', () => {
        resolve(false);
      })
      .end();
  });
}

async function makeTemplate(rootDir: string, serverUrl: string, name: string): Promise<void> {
  try {
    await runOn(serverUrl, `create database ${name}`);
  } catch (error) {
    if ((error as pg.DatabaseError).code !== '42501') throw error;
    throw new Error(
      'The user of TEST_DATABASE_URL may not create databases, which the tests need.',
      {
        cause: error,
      },
    );
  }
  const { migrate } = await importBuilt<{ migrate: typeof Migrate }>(rootDir, 'store/migrate.js');
  const url = new URL(serverUrl);
  url.pathname = `/${name}`;
  await migrate(url.href, 'gateway');
}

async function endServer(server: TestServer, run: string): Promise<void> {
  await dropDatabases(server.url, run).finally(server.stop);
}

async function dropDatabases(serverUrl: string, run: string): Promise<void> {
  const client = new pg.Client(serverUrl);
  await client.connect();
  const { rows } = await client.query<{ name: string }>(
    'select datname as name from pg_database where starts_with(datname, $1)',
    [run],
  );
  for (const { name } of rows) await client.query(`drop database ${name} with (force)`);
  await client.end();
}

async function runOn(url: string, ...statements: string[]): Promise<void> {
  const client = new pg.Client(url);
  await client.connect();
  try {
    for (const statement of statements) await client.query(statement);
  } finally {
    await client.end();
  }
}

/** This file runs outside the test runner's module loader, which maps `.js` to the sources. */
async function importBuilt<T>(rootDir: string, path: string): Promise<T> {
  return (await import(pathToFileURL(join(rootDir, 'dist', path)).href)) as T;
}
