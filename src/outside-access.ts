/** The ways out of the gateway, as configuration allows them. */
import { X509Certificate } from 'node:crypto';
import { readFileSync } from 'node:fs';
import type { Config } from './config.js';
import { StartError } from './errors.js';
import { createFetchOutside } from './outside/fetch-outside.js';
import type { FetchOutside } from './outside/fetch-outside.js';

export interface OutsideAccess {
  /** To addresses that clients were registered with. */
  readonly fetchOutside: FetchOutside;
  /** To the host of AUTH_ISSUER, which may be inside the site; null: there is no such issuer. */
  readonly authIssuer: { readonly url: string; readonly fetch: FetchOutside } | null;
  /** To the host of SIGNIN_ISSUER in the same way, and by `fetchOutside` to others that it names; null: there is none. */
  readonly fetchFromProvider: FetchOutside | null;
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
