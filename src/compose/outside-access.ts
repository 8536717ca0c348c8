/** The ways out of the gateway, as configuration allows them. */
import { X509Certificate } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { Config } from '../config/config.js';
import { StartError } from '../errors.js';
import { createFetchOutside, refusalOf } from '../outside/fetch-outside.js';
import type { FetchOutside, OutsideSettings } from '../outside/fetch-outside.js';

/** The way to those who have subscribed. */
export interface Subscribers {
  readonly fetch: FetchOutside;
  /** Why an endpoint would never be notified, as a sentence; null: it might be. */
  readonly refusalOf: (endpoint: string) => string | null;
}

export interface OutsideAccess {
  /** To addresses that clients were registered with. */
  readonly fetchOutside: FetchOutside;
  /** To the host of AUTH_ISSUER, which may be inside the site; null: there is no such issuer. */
  readonly authIssuer: { readonly url: string; readonly fetch: FetchOutside } | null;
  /** To the host of SIGNIN_ISSUER in the same way, and by `fetchOutside` to others that it names; null: there is none. */
  readonly fetchFromProvider: FetchOutside | null;
  readonly subscribers: Subscribers;
}

function readAuthorities(file: string): string {
  const pem = readFileSync(file, 'utf8');
  try {
    new X509Certificate(pem);
  } catch {
    throw new StartError(`OUTSIDE_CA names ${file}, which holds no certificate in PEM.`);
  }
  return pem;
}

/** @throws StartError when the file of authorities holds none */
export function outsideOf(config: Config): OutsideAccess {
  const { authIssuer: url, outsideHosts, outsideNetworks: networks, outsideCaFile } = config;
  const ca = outsideCaFile === undefined ? undefined : readAuthorities(outsideCaFile);
  const fetchOutside = createFetchOutside({ hosts: outsideHosts ?? null, networks, ca });
  const { provider } = config;
  return {
    fetchOutside,
    authIssuer: url === undefined ? null : { url, fetch: issuerFetch(url, ca) },
    fetchFromProvider:
      provider === undefined
        ? null
        : byHost(provider.issuer, issuerFetch(provider.issuer, ca), fetchOutside),
    subscribers: subscribersOf(config, ca),
  };
}

const THIS_MACHINE = { hosts: ['localhost', '127.0.0.1', '::1'], networks: ['127.0.0.0/8', '::1'] };

/**
 * Patients' data go this way, so that nobody is notified whom the site has not named. Only the embedded
 * trial, whose patients are invented, notifies programs of this machine without being told.
 */
function subscribersOf(config: Config, ca: string | undefined): Subscribers {
  const { subscriberHosts: hosts = [], outsideNetworks: networks, databaseUrl } = config;
  const settings: OutsideSettings =
    databaseUrl === undefined
      ? {
          hosts: [...hosts, ...THIS_MACHINE.hosts],
          networks: [...networks, ...THIS_MACHINE.networks],
          ca,
          plainLoopback: true,
        }
      : { hosts, networks, ca };
  return {
    fetch: createFetchOutside(settings),
    refusalOf: (endpoint) => refusalOf(endpoint, settings),
  };
}

/** One way to the host of a trusted address, the other to all others. */
function byHost(trusted: string, toTrusted: FetchOutside, toOthers: FetchOutside): FetchOutside {
  const { host } = new URL(trusted);
  return (url, request) =>
    URL.canParse(url) && new URL(url).host === host
      ? toTrusted(url, request)
      : toOthers(url, request);
}

/** The issuer is trusted by configuration, wherever in the site it is; nobody else is on this way. */
function issuerFetch(url: string, ca: string | undefined): FetchOutside {
  const host = new URL(url).hostname.replace(/^\[(.*)\]$/, '$1');
  const networks = ['0.0.0.0/0', '::/0'];
  return createFetchOutside({ hosts: [host], networks, ca, plainLoopback: true });
}
