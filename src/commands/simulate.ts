/** `npm run simulate`: an invented ward that sends to a running gateway. `--help` tells how. */
import { readFile } from 'node:fs/promises';
import type { SecureContextOptions } from 'node:tls';
import { z } from 'zod';
import { readConfig } from '../config/config.js';
import { credentialsFileIn } from '../demo/demo-clients.js';
import { StartError } from '../errors.js';
import { isLoopback } from '../intake/hl7v2/peer.js';
import { helpText, readOptions } from '../simulate/options.js';
import type { SimulateOptions } from '../simulate/options.js';
import { tallyLines } from '../simulate/print-tally.js';
import { simulate } from '../simulate/simulate.js';
import type { Credentials } from '../simulate/wire/clients.js';

/** Registered for HL7 by IANA. */
const HL7_PORT = 2575;

const CREDENTIALS = z.array(z.object({ clientId: z.string(), clientSecret: z.string() })).min(1);

async function readText(file: string, what: string): Promise<string> {
  return readFile(file, 'utf8').catch(() => {
    throw new StartError(`The file ${file}, ${what}, cannot be read.`);
  });
}

/**
 * Those named, else those of the environment, else those of the demo, which runs on this machine and whose
 * secrets are nobody else's business. None: there are none.
 */
async function readCredentials(
  { credentials }: SimulateOptions,
  gateway: string,
  dataDir: string,
): Promise<readonly Credentials[]> {
  const { SIMULATE_CLIENT_ID: clientId, SIMULATE_CLIENT_SECRET: clientSecret } = process.env;
  if (credentials === undefined && clientId !== undefined && clientSecret !== undefined) {
    return [{ clientId, clientSecret }];
  }
  if (credentials !== undefined) {
    return parseCredentials(await readText(credentials, 'named by --credentials'), credentials);
  }
  const host = new URL(gateway).hostname.replace(/^\[|\]$/g, '');
  if (host !== 'localhost' && !isLoopback(host)) return [];
  const file = credentialsFileIn(dataDir);
  const text = await readFile(file, 'utf8').catch(() => null);
  return text === null ? [] : parseCredentials(text, file);
}

function parseCredentials(text: string, file: string): readonly Credentials[] {
  try {
    return CREDENTIALS.parse(JSON.parse(text));
  } catch {
    throw new StartError(
      `The file ${file} must be a JSON list of { "clientId", "clientSecret" }, with one client at least.`,
    );
  }
}

async function readTls({
  certificate,
  key,
  authority,
}: SimulateOptions): Promise<SecureContextOptions | undefined> {
  if (certificate === undefined && authority === undefined) return undefined;
  const read = async (file: string | undefined): Promise<string | undefined> =>
    file === undefined ? undefined : readText(file, 'for MLLP over TLS');
  const [cert, ownKey, ca] = await Promise.all([read(certificate), read(key), read(authority)]);
  return {
    ...(cert !== undefined && { cert }),
    ...(ownKey !== undefined && { key: ownKey }),
    ...(ca !== undefined && { ca }),
  };
}

/** The first Ctrl-C ends the measuring, the second one the waiting for answers. */
function watchSignals(): { readonly stopping: AbortSignal; readonly ending: AbortSignal } {
  const [stop, end] = [new AbortController(), new AbortController()];
  for (const signal of ['SIGINT', 'SIGTERM'] as const) {
    process.on(signal, () => {
      if (stop.signal.aborted) end.abort();
      stop.abort();
    });
  }
  return { stopping: stop.signal, ending: end.signal };
}

async function main(): Promise<void> {
  const options = readOptions(process.argv.slice(2));
  if (options === null) {
    process.stdout.write(helpText());
    return;
  }
  const { dataDir, publicUrl, port, mllpPort } = readConfig(process.env);
  const gateway = options.gateway ?? publicUrl ?? `http://127.0.0.1:${port}`;
  const tls = await readTls(options);
  const mllp = options.mllp ?? { host: '127.0.0.1', port: mllpPort ?? HL7_PORT };
  const write = (line: string): void => {
    process.stdout.write(`${line}\n`);
  };
  const report = await simulate(options, {
    gateway,
    mllp: { ...mllp, ...(tls && { tls }) },
    credentials: await readCredentials(options, gateway, dataDir),
    write: options.json ? () => undefined : write,
    ...watchSignals(),
  });
  if (options.json) write(JSON.stringify(report, null, 2));
  else for (const line of ['', ...tallyLines(report)]) write(line);
  if (!report.isGood) process.exitCode = 1;
}

main().catch((error: unknown) => {
  if (!(error instanceof StartError)) throw error;
  process.stderr.write(`${error.message}\n`);
  process.exitCode = 1;
});
