/**
 * Requests that the gateway makes of its own accord, to hosts that somebody else has named: HTTPS only,
 * to allowed hosts, the address checked at the moment of connecting, no redirects, size and time bounded.
 */
import { lookup as lookUp } from 'node:dns/promises';
import { Agent as HttpAgent, request as requestHttp } from 'node:http';
import type { ClientRequest, IncomingHttpHeaders, IncomingMessage } from 'node:http';
import { Agent as HttpsAgent, request as requestHttps } from 'node:https';
import { isIP } from 'node:net';
import type { LookupFunction } from 'node:net';
import { rootCertificates } from 'node:tls';
import { admitAddresses, isLoopbackAddress, isLoopbackHost } from './addresses.js';

export interface OutsideSettings {
  /** Names that may be asked, `*.name` for all below a name; null: any. */
  readonly hosts: readonly string[] | null;
  /** Ranges of private addresses that such a host may have (`10.1.0.0/16`). */
  readonly networks: readonly string[];
  /** Authorities (PEM) trusted beside the well-known ones. */
  readonly ca?: string | undefined;
  /** Takes http:// too, where host and address are loopback: for trials on one machine. */
  readonly plainLoopback?: boolean;
  /** All addresses of a name; the system's own way when absent. */
  readonly resolve?: (name: string) => Promise<readonly OutsideAddress[]>;
}

export interface OutsideAddress {
  readonly address: string;
  readonly family: number;
}

export interface OutsideRequest {
  readonly method?: 'GET' | 'POST';
  readonly headers?: Readonly<Record<string, string>>;
  readonly body?: string | Buffer;
  /** Bound of the answer's body. */
  readonly maxBytes: number;
  /** Bound of everything, from looking up the name to the last byte. */
  readonly timeoutMs: number;
  /** Ends it early, as if the time had run out. */
  readonly signal?: AbortSignal;
}

export interface OutsideAnswer {
  readonly status: number;
  readonly headers: IncomingHttpHeaders;
  readonly body: Buffer;
}

/** Throws an {@link OutsideError}. */
export type FetchOutside = (url: string, request: OutsideRequest) => Promise<OutsideAnswer>;

/** Why there is no answer. */
export type OutsideFault =
  | 'url-refused'
  | 'host-refused'
  | 'address-refused'
  | 'header-refused'
  | 'unreachable'
  | 'timed-out'
  | 'redirected'
  | 'too-large';

/** A request that was not made, or whose answer is not taken. The message names no more than the host. */
export class OutsideError extends Error {
  override readonly name = 'OutsideError';
  readonly fault: OutsideFault;

  constructor(fault: OutsideFault, message: string) {
    super(message);
    this.fault = fault;
  }
}

const MAX_HEADER_BYTES = 16 * 1024;
/** Where a message ends and where it goes is for HTTP to say, never for who has us send one. */
const FRAMING =
  /^(?:host|connection|keep-alive|content-length|transfer-encoding|te|trailer|upgrade|expect|proxy-.*)$/i;

function isAllowedHost(hosts: OutsideSettings['hosts'], name: string): boolean {
  return (
    hosts === null ||
    hosts.some((host) => (host.startsWith('*.') ? name.endsWith(host.slice(1)) : name === host))
  );
}

/** Whether a header is one that a request of ours never takes from somebody else. */
export function isFramingHeader(name: string): boolean {
  return FRAMING.test(name);
}

/** The host as it is compared and connected to: without the brackets of IPv6 and a dot at the end. */
function hostOf({ hostname }: URL): string {
  return hostname.replace(/^\[(.*)\]$/, '$1').replace(/\.$/, '');
}

/** The check of an address for this URL; throws when the URL itself is refused. */
function ruleFor(url: URL, settings: OutsideSettings): (address: string) => boolean {
  const host = hostOf(url);
  if (url.username !== '' || url.password !== '') {
    throw new OutsideError('url-refused', 'The address holds a user or a password.');
  }
  if (!isAllowedHost(settings.hosts, host)) {
    throw new OutsideError('host-refused', `${host} is not among the allowed hosts.`);
  }
  if (url.protocol === 'https:') return admitAddresses(settings.networks);
  if (url.protocol === 'http:' && settings.plainLoopback === true && isLoopbackHost(host)) {
    return isLoopbackAddress;
  }
  throw new OutsideError('url-refused', 'The address is not https.');
}

function refusedAddress(host: string): OutsideError {
  return new OutsideError('address-refused', `${host} has an address that is not connected to.`);
}

/** Looks a name up for a connection. One bad address refuses the name: it is not tried around. */
function guardedLookup(
  resolve: NonNullable<OutsideSettings['resolve']>,
  admits: (address: string) => boolean,
): LookupFunction {
  return (name, options, callback) => {
    const answer = (addresses: readonly OutsideAddress[]): void => {
      const [first] = addresses;
      if (first === undefined || !addresses.every(({ address }) => admits(address))) {
        callback(refusedAddress(name), '');
      } else if (options.all === true) callback(null, [...addresses]);
      else callback(null, first.address, first.family);
    };
    resolve(name).then(answer, (error: unknown) => {
      callback(error as Error, '');
    });
  };
}

async function readAnswer(
  response: IncomingMessage,
  host: string,
  maxBytes: number,
): Promise<OutsideAnswer> {
  const { statusCode: status = 0, headers } = response;
  if (status >= 300 && status < 400) {
    throw new OutsideError('redirected', `${host} answers with a redirect.`);
  }
  const tooLarge = new OutsideError(
    'too-large',
    `${host} answers with more than ${maxBytes} bytes.`,
  );
  if (Number(headers['content-length'] ?? '0') > maxBytes) throw tooLarge;
  const chunks: Buffer[] = [];
  let size = 0;
  for await (const chunk of response as AsyncIterable<Buffer>) {
    size += chunk.length;
    if (size > maxBytes) throw tooLarge;
    chunks.push(chunk);
  }
  return { status, headers, body: Buffer.concat(chunks) };
}

/** What a failure of Node's is to the caller: its own text may hold the whole address. */
function toOutsideError(error: unknown, host: string, signal: AbortSignal): OutsideError {
  if (error instanceof OutsideError) return error;
  if (signal.aborted) return new OutsideError('timed-out', `${host} did not answer in time.`);
  const { code } = error as NodeJS.ErrnoException;
  return new OutsideError('unreachable', `${host} cannot be reached (${code ?? 'failed'}).`);
}

function answerTo(request: ClientRequest, body: OutsideRequest['body']): Promise<IncomingMessage> {
  return new Promise((resolve, reject) => {
    request.once('response', resolve);
    // Stays on: a connection that breaks later must not end the process.
    request.on('error', reject);
    request.end(body);
  });
}

function agentsOf(settings: OutsideSettings): { http: HttpAgent; https: HttpsAgent } {
  const { ca } = settings;
  return {
    http: new HttpAgent({ keepAlive: false }),
    https: new HttpsAgent({
      keepAlive: false,
      rejectUnauthorized: true,
      minVersion: 'TLSv1.2',
      ...(ca === undefined ? {} : { ca: [...rootCertificates, ca] }),
    }),
  };
}

async function systemAddresses(name: string): Promise<OutsideAddress[]> {
  return lookUp(name, { all: true });
}

interface Exchange {
  readonly url: URL;
  readonly asked: OutsideRequest;
  readonly signal: AbortSignal;
  readonly lookup: LookupFunction;
}

function startRequest(agents: ReturnType<typeof agentsOf>, exchange: Exchange): ClientRequest {
  const { url, asked, signal, lookup } = exchange;
  const options = {
    ...{ method: asked.method ?? 'GET', signal, lookup, maxHeaderSize: MAX_HEADER_BYTES },
    headers: { 'Accept-Encoding': 'identity', ...asked.headers },
  };
  return url.protocol === 'https:'
    ? requestHttps(url, { ...options, agent: agents.https })
    : requestHttp(url, { ...options, agent: agents.http });
}

/** A URL that may be asked, as far as it can be told without looking its host up. */
function checkedUrl(
  address: string,
  settings: OutsideSettings,
): { readonly url: URL; readonly admits: (address: string) => boolean } {
  if (!URL.canParse(address)) throw new OutsideError('url-refused', 'The address is no URL.');
  const url = new URL(address);
  const host = hostOf(url);
  const admits = ruleFor(url, settings);
  // A host that is an address is never looked up.
  if (isIP(host) !== 0 && !admits(host)) throw refusedAddress(host);
  return { url, admits };
}

/**
 * Why a URL that somebody wants to register would never be asked, as a sentence; null: it might be. What
 * its name leads to is looked at when it is asked.
 */
export function refusalOf(address: string, settings: OutsideSettings): string | null {
  try {
    checkedUrl(address, settings);
    return null;
  } catch (error) {
    if (error instanceof OutsideError) return error.message;
    throw error;
  }
}

/** Makes the one way out under these settings. Each request has a connection of its own. */
export function createFetchOutside(settings: OutsideSettings): FetchOutside {
  const agents = agentsOf(settings);
  const resolve = settings.resolve ?? systemAddresses;
  return async (address, asked) => {
    const { url, admits } = checkedUrl(address, settings);
    const host = hostOf(url);
    if (Object.keys(asked.headers ?? {}).some(isFramingHeader)) {
      throw new OutsideError('header-refused', 'A header is one of those that HTTP itself sets.');
    }
    const timeout = AbortSignal.timeout(asked.timeoutMs);
    const signal = asked.signal === undefined ? timeout : AbortSignal.any([timeout, asked.signal]);
    const lookup = guardedLookup(resolve, admits);
    let request: ClientRequest | undefined;
    try {
      request = startRequest(agents, { url, asked, signal, lookup });
      return await readAnswer(await answerTo(request, asked.body), host, asked.maxBytes);
    } catch (error) {
      throw toOutsideError(error, host, signal);
    } finally {
      request?.destroy();
    }
  };
}
