/**
 * The hospital's OpenID provider: authorization code flow with PKCE (OpenID Connect Core 1.0 §3.1,
 * RFC 7636), by the library `openid-client`. All requests go out by the gateway's one way out.
 */
import {
  allowInsecureRequests,
  authorizationCodeGrant,
  buildAuthorizationUrl,
  buildEndSessionUrl,
  calculatePKCECodeChallenge,
  ClientSecretBasic,
  customFetch,
  discovery,
  enableNonRepudiationChecks,
  fetchUserInfo,
  randomNonce,
  randomPKCECodeVerifier,
  randomState,
} from 'openid-client';
import type { Configuration, CustomFetch } from 'openid-client';
import type { FetchOutside } from '../../outside/fetch-outside.js';

const TIMEOUT_MS = 10_000;
const MAX_BYTES = 256 * 1024;
/** What a provider says of itself changes seldom, but it does. */
const DISCOVERED_FOR_MS = 3_600_000;

export interface ProviderSettings {
  /** As it calls itself. */
  readonly issuer: string;
  readonly clientId: string;
  readonly clientSecret: string;
  readonly scope: string;
  /** Whether it asks who is there also when it knows the browser (OpenID Connect Core 1.0 §3.1.2.1). */
  readonly prompt: 'login' | 'select_account' | 'off';
  /** Where it sends people back to: registered with it. */
  readonly redirectUri: string;
  /** Where it sends people who have signed out there too. */
  readonly signedOutUri: string;
  readonly fetch: FetchOutside;
}

/** What binds an answer of the provider to the browser that asked. */
export interface Attempt {
  readonly state: string;
  readonly nonce: string;
  readonly codeVerifier: string;
}

export type Claims = Readonly<Record<string, unknown>>;

export interface Provider {
  /** A new attempt, and the address at the provider that it begins with. */
  begin(): Promise<{ readonly attempt: Attempt; readonly address: string }>;
  /**
   * Exchanges the code of an answer, and checks what comes: state, issuer, signature, audience, nonce and
   * end of the id token. Where `lacks` says that claims are missing, the provider is asked.
   * @param query of the address that the browser came back to
   * @throws errors of `openid-client`
   */
  finish(query: string, attempt: Attempt, lacks: (claims: Claims) => boolean): Promise<Claims>;
  /** Where the session at the provider ends; null: it offers nothing of the kind. */
  endAddress(): Promise<string | null>;
}

/** The gateway's way out in the clothes of `fetch`. */
function fetchBy(fetchOutside: FetchOutside): CustomFetch {
  return async (url, { method, headers, body }) => {
    const sent =
      body instanceof URLSearchParams || typeof body === 'string' ? String(body) : undefined;
    const answer = await fetchOutside(url, {
      ...{ method: method === 'POST' ? 'POST' : 'GET', headers },
      ...(sent !== undefined && { body: sent }),
      ...{ maxBytes: MAX_BYTES, timeoutMs: TIMEOUT_MS },
    });
    const type = answer.headers['content-type'];
    return new Response(new Uint8Array(answer.body), {
      status: answer.status,
      headers: type === undefined ? {} : { 'content-type': type },
    });
  };
}

async function discover(settings: ProviderSettings): Promise<Configuration> {
  const { issuer, clientId, clientSecret, fetch: fetchOutside } = settings;
  const url = new URL(issuer);
  const found = await discovery(url, clientId, clientSecret, ClientSecretBasic(clientSecret), {
    [customFetch]: fetchBy(fetchOutside),
    // Only an issuer of this machine may be one: the configuration sees to it.
    // eslint-disable-next-line @typescript-eslint/no-deprecated -- marked so to stand out
    execute: url.protocol === 'http:' ? [allowInsecureRequests] : [],
  });
  // The library takes an id token from the token endpoint by TLS alone; its signature is checked here too.
  enableNonRepudiationChecks(found);
  return found;
}

export function createProvider(settings: ProviderSettings): Provider {
  const { redirectUri, scope, prompt, signedOutUri } = settings;
  let known: { readonly atMs: number; readonly configuration: Promise<Configuration> } | null =
    null;

  function configuration(): Promise<Configuration> {
    if (known !== null && Date.now() - known.atMs < DISCOVERED_FOR_MS) return known.configuration;
    const attempt = { atMs: Date.now(), configuration: discover(settings) };
    known = attempt;
    attempt.configuration.catch(() => {
      if (known === attempt) known = null;
    });
    return attempt.configuration;
  }

  return {
    async begin() {
      const attempt = {
        state: randomState(),
        nonce: randomNonce(),
        codeVerifier: randomPKCECodeVerifier(),
      };
      const address = buildAuthorizationUrl(await configuration(), {
        ...{ redirect_uri: redirectUri, scope, state: attempt.state, nonce: attempt.nonce },
        code_challenge: await calculatePKCECodeChallenge(attempt.codeVerifier),
        code_challenge_method: 'S256',
        ...(prompt === 'off' ? {} : { prompt }),
      });
      return { attempt, address: address.href };
    },
    async finish(query, { state, nonce, codeVerifier }, lacks) {
      const found = await configuration();
      const tokens = await authorizationCodeGrant(found, new URL(`${redirectUri}?${query}`), {
        ...{ expectedState: state, expectedNonce: nonce, pkceCodeVerifier: codeVerifier },
      });
      const claims = tokens.claims();
      if (claims === undefined) throw new Error('a provider gave no id token');
      if (!lacks(claims) || found.serverMetadata().userinfo_endpoint === undefined) return claims;
      return { ...(await fetchUserInfo(found, tokens.access_token, claims.sub)), ...claims };
    },
    async endAddress() {
      const found = await configuration();
      if (found.serverMetadata().end_session_endpoint === undefined) return null;
      return buildEndSessionUrl(found, { post_logout_redirect_uri: signedOutUri }).href;
    },
  };
}
