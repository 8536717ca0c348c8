import { once } from 'node:events';
import { createInterface } from 'node:readline';
import { parseArgs } from 'node:util';
import { readConfig } from '../config/config.js';
import { describeReport } from '../compose/describe-audit.js';
import { StartError } from '../errors.js';
import { AuditFault } from '../store/audit-fault.js';
import { digestOf } from '../store/audit-hashes.js';
import { listSeals } from '../store/audit-seals.js';
import { AuditTrail } from '../store/audit-trail.js';
import { readDigestKey } from '../store/audit-writers.js';
import { clearAudit } from '../store/clear-audit.js';
import { requireMigrated } from '../store/migrate.js';
import { Names } from '../store/names.js';
import { openPool } from '../store/pool.js';
import type { Pool } from '../store/pool.js';
import { verifyAudit } from '../store/verify-audit.js';

const USAGE =
  'Use: npm run audit -- verify [--from TIME] [--to TIME], or seals [--after NUMBER], or clear --before TIME, or digest (of a value on the standard input). A TIME is a date, or a date and time with an offset.';

/** The trail may be long, and it is read in one look. */
const STATEMENT_MS = 10 * 60_000;

interface Arguments {
  readonly verb: string;
  readonly values: Readonly<Partial<Record<'from' | 'to' | 'before' | 'after', string>>>;
}

const OPTIONS: Readonly<Record<string, readonly string[]>> = {
  verify: ['from', 'to'],
  seals: ['after'],
  clear: ['before'],
  digest: [],
};

function readArguments(args: readonly string[]): Arguments {
  const [verb = '', ...rest] = args;
  const names = OPTIONS[verb];
  if (names === undefined) throw new StartError(USAGE);
  const options = Object.fromEntries(names.map((name) => [name, { type: 'string' as const }]));
  try {
    const { values } = parseArgs({ args: rest, options });
    return { verb, values };
  } catch (error) {
    throw new StartError(`${error instanceof Error ? error.message : String(error)} ${USAGE}`);
  }
}

const TIME = /^\d{4}-\d{2}-\d{2}(?:T\d{2}:\d{2}(?::\d{2}(?:\.\d{1,3})?)?(?:Z|[+-]\d{2}:\d{2}))?$/;

/** A day begins at midnight UTC. */
function readTime(name: string, text: string | undefined): number | null {
  if (text === undefined) return null;
  const timeMs = TIME.test(text) ? Date.parse(text) : NaN;
  if (Number.isNaN(timeMs)) throw new StartError(`--${name} is not a time: ${text}. ${USAGE}`);
  return timeMs;
}

async function verify(pool: Pool, { values }: Arguments): Promise<void> {
  const range = { fromMs: readTime('from', values.from), toMs: readTime('to', values.to) };
  process.stdout.write(`${describeReport(await verifyAudit(pool, range))}\n`);
}

/** A line of JSON a seal, oldest first: kept elsewhere, they show whether the whole trail was written anew. */
async function printSeals(pool: Pool, { values: { after = '0' } }: Arguments): Promise<void> {
  if (!/^\d{1,15}$/.test(after)) throw new StartError(`--after is not a number. ${USAGE}`);
  for await (const seal of listSeals(pool, Number(after))) {
    const { number, writerId, minuteMs, entries, lastHash, sealedMs, hash } = seal;
    const line = JSON.stringify({
      seal: number,
      process: writerId,
      minute: new Date(minuteMs),
      entries,
      lastHash: lastHash.toString('hex'),
      sealedAt: new Date(sealedMs),
      hash: hash.toString('hex'),
    });
    if (!process.stdout.write(`${line}\n`)) await once(process.stdout, 'drain');
  }
}

async function clear(pool: Pool, { values }: Arguments): Promise<void> {
  const beforeMs = readTime('before', values.before);
  if (beforeMs === null) throw new StartError(USAGE);
  if (beforeMs > Date.now()) throw new StartError('--before lies in the future.');
  const trail = new AuditTrail({
    ...{ pool, names: new Names(pool), program: 'audit' },
    onFailure(error) {
      process.stderr.write(`The entry of this clearing could not be chained: ${String(error)}\n`);
      process.exitCode = 1;
    },
  });
  trail.start();
  try {
    const cleared = await clearAudit(pool, beforeMs);
    const what = cleared === 1 ? 'one sealed minute' : `${cleared} sealed minutes`;
    const before = new Date(beforeMs).toISOString();
    process.stdout.write(`Cleared ${what} before ${before}; the seals stay.\n`);
  } finally {
    await trail.stop();
  }
}

async function printDigest(pool: Pool): Promise<void> {
  const key = await readDigestKey(pool);
  for await (const line of createInterface({ input: process.stdin })) {
    process.stdout.write(`${digestOf(key, line)}\n`);
  }
}

const VERBS: Readonly<Record<string, (pool: Pool, args: Arguments) => Promise<void>>> = {
  verify,
  seals: printSeals,
  clear,
  digest: printDigest,
};

/** `npm run audit`: proves the audit trail, prints its seals, clears what retention lets go. */
async function main(): Promise<void> {
  const args = readArguments(process.argv.slice(2));
  const { databaseUrl, databaseSchema } = readConfig(process.env);
  if (databaseUrl === undefined) {
    throw new StartError('DATABASE_URL is not set: it names the database of the audit trail.');
  }
  await requireMigrated(databaseUrl, databaseSchema);
  const pool = openPool({
    ...{ databaseUrl, schema: databaseSchema, maxConnections: 2 },
    statementTimeoutMs: STATEMENT_MS,
  });
  try {
    await VERBS[args.verb]?.(pool, args);
  } finally {
    await pool.end();
  }
}

main().catch((error: unknown) => {
  if (error instanceof AuditFault) process.stdout.write(`${error.message}.\n`);
  else if (error instanceof StartError) process.stderr.write(`${error.message}\n`);
  else throw error;
  process.exitCode = 1;
});
