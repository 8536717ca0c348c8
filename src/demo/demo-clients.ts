/** The programs that use the demo ward, and the file in which their credentials lie. */
import { readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { addClient, findClient, listClients, rotateSecret } from '../store/clients.js';
import type { ClientRecord, Credentials } from '../store/clients.js';
import type { Pool } from '../store/pool.js';

interface DemoClient {
  readonly name: string;
  readonly scopes: string;
  readonly source: { readonly name: string; readonly attended: boolean };
}

const ROLES = ['sender', 'analyst', 'record', 'admin'] as const;
export type DemoRole = (typeof ROLES)[number];

const attended = (name: string): DemoClient['source'] => ({ name, attended: true });

const CLIENTS: Readonly<Record<DemoRole | 'monitor', DemoClient>> = {
  sender: {
    name: 'demo-sender',
    scopes: 'sets.write sets.check system/Observation.c',
    source: attended('larkfield-ward'),
  },
  analyst: {
    name: 'demo-analyst',
    scopes: 'review.read review.write rules.read',
    source: attended('larkfield-analyst'),
  },
  record: {
    name: 'demo-record',
    scopes: 'system/*.rs system/Subscription.cruds',
    source: attended('larkfield-record'),
  },
  admin: {
    name: 'demo-admin',
    scopes: 'admin metrics.read system/Patient.crus',
    source: attended('larkfield-admin'),
  },
  /** Sent the monitor's sets once; nobody is told its secret. */
  monitor: {
    name: 'demo-monitor',
    scopes: 'sets.write',
    source: { name: 'larkfield-monitor', attended: false },
  },
};

const FILE = z.array(
  z.object({
    role: z.enum(ROLES),
    clientId: z.string(),
    clientSecret: z.string(),
    scopes: z.string(),
  }),
);
export type DemoCredentials = z.output<typeof FILE>;

export function credentialsFileIn(dataDir: string): string {
  return join(dataDir, 'demo-clients.json');
}

/** What the file holds; null: there is none that can be read. */
export async function readCredentials(dataDir: string): Promise<DemoCredentials | null> {
  try {
    const text = await readFile(credentialsFileIn(dataDir), 'utf8');
    return FILE.parse(JSON.parse(text));
  } catch {
    return null;
  }
}

/** Written whole or not at all, for the owner's eyes only. */
export async function writeCredentials(
  dataDir: string,
  credentials: DemoCredentials,
): Promise<void> {
  const file = credentialsFileIn(dataDir);
  const rows = credentials.map((row) => `  ${JSON.stringify(row)}`).join(',\n');
  await writeFile(`${file}.new`, `[\n${rows}\n]\n`, { mode: 0o600 });
  await rename(`${file}.new`, file);
}

/** Whether the file speaks of the clients of this very database, all of them. */
export async function areCurrent(
  pool: Pool,
  credentials: DemoCredentials | null,
): Promise<boolean> {
  if (credentials === null) return false;
  const known = await Promise.all(credentials.map(({ clientId }) => findClient(pool, clientId)));
  const held = new Set(credentials.map(({ role }) => role));
  return held.size === ROLES.length && known.every((client) => client !== null);
}

async function register(pool: Pool, client: DemoClient): Promise<Credentials> {
  const before = (await listClients(pool)).find(({ name }) => name === client.name);
  const credentials =
    before === undefined
      ? await addClient(pool, { ...client, scopes: client.scopes.split(' ') })
      : await rotateSecret(pool, before.clientId);
  if (credentials === null) throw new Error(`the demo client ${client.name} cannot be registered`);
  return credentials;
}

export interface RegisteredDemo {
  readonly credentials: DemoCredentials;
  readonly sender: ClientRecord;
  readonly monitor: ClientRecord;
  readonly admin: ClientRecord;
}

async function recordOf(pool: Pool, { clientId }: Credentials): Promise<ClientRecord> {
  const record = await findClient(pool, clientId);
  if (record === null) throw new Error('a demo client is gone as soon as it was registered');
  return record;
}

/** Registers the clients; those that are there already get new secrets, which are all that changes. */
export async function registerDemoClients(pool: Pool): Promise<RegisteredDemo> {
  const told = {
    sender: await register(pool, CLIENTS.sender),
    analyst: await register(pool, CLIENTS.analyst),
    record: await register(pool, CLIENTS.record),
    admin: await register(pool, CLIENTS.admin),
  };
  const monitor = await register(pool, CLIENTS.monitor);
  return {
    credentials: ROLES.map((role) => ({ role, ...told[role], scopes: CLIENTS[role].scopes })),
    sender: await recordOf(pool, told.sender),
    monitor: await recordOf(pool, monitor),
    admin: await recordOf(pool, told.admin),
  };
}
