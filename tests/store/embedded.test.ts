import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { pathToFileURL } from 'node:url';
import pg from 'pg';
import { StartError } from '../../src/errors.js';
import { startEmbeddedServer } from '../../src/store/embedded/server.js';
import type { EmbeddedServer } from '../../src/store/embedded/server.js';

const dataDir = mkdtempSync(join(tmpdir(), 'gateway-embedded-'));
const cluster = join(dataDir, 'postgres', 'cluster');
const lockFile = join(cluster, 'postmaster.pid');

let running: EmbeddedServer | undefined;
let gateway: ChildProcess | undefined;

async function start(report?: (sentence: string) => void): Promise<EmbeddedServer> {
  running = await startEmbeddedServer(dataDir, report);
  return running;
}

async function query<T extends pg.QueryResultRow>(url: string, sql: string): Promise<T[]> {
  const client = new pg.Client(url);
  client.on('error', () => undefined);
  await client.connect();
  try {
    return (await client.query<T>(sql)).rows;
  } finally {
    await client.end();
  }
}

/** A gateway that only has the database: another process, in a process group of its own. */
async function startElsewhere(): Promise<{ child: ChildProcess; line: string }> {
  const module = pathToFileURL(join('dist', 'store', 'embedded', 'server.js')).href;
  const program = `
    import { startEmbeddedServer } from '${module}';
    process.on('SIGINT', () => {});
    const server = await startEmbeddedServer(process.argv[1]).catch((e) => ({ databaseUrl: e.message }));
    console.log(server.databaseUrl);`;
  const child = spawn(process.execPath, ['--input-type=module', '-e', program, dataDir], {
    stdio: ['ignore', 'pipe', 'inherit'],
    detached: true,
  });
  gateway = child;
  const [line] = (await once(child.stdout, 'data')) as [Buffer];
  return { child, line: line.toString('utf8').trim() };
}

async function kill(child: ChildProcess): Promise<void> {
  const ended = once(child, 'exit');
  child.kill('SIGKILL');
  await ended;
}

const serverPid = (): number => Number(readFileSync(lockFile, 'utf8').split('\n')[0]);

afterEach(async () => {
  if (gateway?.exitCode === null) gateway.kill('SIGKILL');
  await running?.stop();
  running = undefined;
});

afterAll(() => {
  rmSync(dataDir, { recursive: true, force: true });
});

describe('the embedded server', () => {
  it('has one winner when two gateways start on a new folder at once', async () => {
    const here = start().catch((error: unknown) => (error as Error).message);
    const there = await startElsewhere();
    const outcomes = [await here, there.line].map((outcome) =>
      typeof outcome === 'object' ? outcome.databaseUrl : outcome,
    );
    expect(outcomes.filter((outcome) => outcome.startsWith('postgres://'))).toHaveLength(1);
    expect(
      outcomes.filter((outcome) => outcome.includes('in use by another running')),
    ).toHaveLength(1);
  });

  it('loses nothing that was committed, and keeps what it holds to itself', async () => {
    const { databaseUrl, stop } = await start();
    const settings = ['fsync', 'full_page_writes', 'synchronous_commit'];
    for (const name of settings) {
      expect(await query(databaseUrl, `show ${name}`)).toEqual([{ [name]: 'on' }]);
    }
    await query(databaseUrl, 'create table kept as select 41 + 1 as answer');
    await stop();
    if (process.platform === 'win32') return;
    const modeOf = (path: string): string => (statSync(path).mode & 0o777).toString(8);
    expect(modeOf(dataDir)).toBe('700');
    expect(modeOf(cluster)).toBe('700');
    expect(modeOf(join(dataDir, 'postgres', 'password'))).toBe('600');
    expect(modeOf(join(dataDir, 'postgres', 'server.log'))).toBe('600');
  });

  it('finds its data on the next start', async () => {
    const { databaseUrl } = await start();
    expect(await query(databaseUrl, 'select answer from kept')).toEqual([{ answer: 42 }]);
  });

  it('refuses a second gateway while the first one runs, and names it', async () => {
    const { databaseUrl } = await start();
    const second = startEmbeddedServer(dataDir);
    await expect(second).rejects.toThrow(StartError);
    await expect(second).rejects.toThrow(
      `in use by another running gateway (process ${process.pid})`,
    );
    expect(await query(databaseUrl, 'select answer from kept')).toEqual([{ answer: 42 }]);
  });

  it('adopts the server of a gateway that was killed, and stops it in the end', async () => {
    const { child, line } = await startElsewhere();
    const orphan = serverPid();
    await kill(child);
    const { databaseUrl, stop } = await start();
    expect(databaseUrl).toBe(line);
    expect(serverPid()).toBe(orphan);
    expect(await query(databaseUrl, 'select answer from kept')).toEqual([{ answer: 42 }]);
    await stop();
    await expect(query(databaseUrl, 'select 1')).rejects.toThrow('ECONNREFUSED');
  });

  it('does not receive the Ctrl-C that is meant for the gateway', async () => {
    const { child, line } = await startElsewhere();
    process.kill(-(child.pid ?? 0), 'SIGINT');
    await sleep(200);
    expect(await query(line, 'select answer from kept')).toEqual([{ answer: 42 }]);
    await kill(child);
    await start();
  });

  it('is started again on the same address when it is killed', async () => {
    const reports: string[] = [];
    const { databaseUrl } = await start((sentence) => reports.push(sentence));
    process.kill(serverPid(), 'SIGKILL');
    while (!reports.includes('The embedded PostgreSQL is back.')) await sleep(20);
    expect(await query(databaseUrl, 'select answer from kept')).toEqual([{ answer: 42 }]);
  });

  it('is not kept from starting by a lock file whose process is another program now', async () => {
    const first = await start();
    const text = readFileSync(lockFile, 'utf8');
    await first.stop();
    writeFileSync(lockFile, text.replace(/^\d+/, String(process.pid)));
    const { databaseUrl } = await start();
    expect(await query(databaseUrl, 'select answer from kept')).toEqual([{ answer: 42 }]);
  });

  it('refuses a data folder of another version in one sentence', async () => {
    const file = join(cluster, 'PG_VERSION');
    const version = readFileSync(file, 'utf8').trim();
    writeFileSync(file, '12\n');
    await expect(start()).rejects.toThrow(
      `was made by PostgreSQL 12, this is PostgreSQL ${version}`,
    );
    writeFileSync(file, `${version}\n`);
  });

  it('refuses a data folder that is a file', async () => {
    const file = join(dataDir, 'file');
    writeFileSync(file, '');
    await expect(startEmbeddedServer(file)).rejects.toThrow('which is not a folder');
  });
});
