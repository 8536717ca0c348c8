/** A small OpenID provider of a test: authorization code with PKCE, as OpenID Connect Core 1.0 §3.1 has it. */
import { createHash, randomUUID } from 'node:crypto';
import { createServer } from 'node:http';
import type { IncomingMessage, ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { text } from 'node:stream/consumers';
import { exportJWK, generateKeyPair, SignJWT } from 'jose';
import type { CryptoKey, JWTPayload } from 'jose';

export const CLIENT = { id: 'vital-signs', secret: 'a secret & more:' };

interface Given {
  readonly challenge: string;
  readonly redirectUri: string;
  readonly nonce: string;
}

/** What a test may have it do wrong, or in another way. */
export interface Behaviour {
  /** Claims of whoever signs in next. */
  claims: JWTPayload;
  /** Claims that only the user info tells. */
  userInfo: Record<string, unknown>;
  /** Changes the id token before it is signed. */
  forge: (claims: JWTPayload) => JWTPayload;
  /** Signs with a key that it does not publish. */
  otherKey: boolean;
  /** Refuses with this error, as when somebody cancels. */
  refuse: { error: string; description: string } | null;
}

export interface TestProvider {
  readonly issuer: string;
  readonly behaviour: Behaviour;
  readonly close: () => Promise<void>;
}

const HONEST: Behaviour = {
  claims: { sub: 'u-1', name: 'Ines Calder', staff_number: 'A-207', groups: ['analysts'] },
  userInfo: {},
  forge: (claims) => claims,
  otherKey: false,
  refuse: null,
};

export const honest = (): Behaviour => ({ ...HONEST });

class Answers {
  readonly behaviour = honest();
  issuer = '';
  readonly #codes = new Map<string, Given>();
  readonly #keys: { own: CryptoKey; other: CryptoKey; jwks: object };

  constructor(keys: { own: CryptoKey; other: CryptoKey; jwks: object }) {
    this.#keys = keys;
  }

  async answer(req: IncomingMessage, res: ServerResponse): Promise<void> {
    const url = new URL(req.url ?? '/', this.issuer);
    switch (url.pathname) {
      case '/.well-known/openid-configuration': {
        send(res, 200, this.#discovery());
        return;
      }
      case '/keys': {
        send(res, 200, this.#keys.jwks);
        return;
      }
      case '/authorize': {
        this.#authorize(url.searchParams, res);
        return;
      }
      case '/token':
        return this.#token(req, res);
      case '/userinfo': {
        send(res, 200, { sub: this.behaviour.claims.sub, ...this.behaviour.userInfo });
        return;
      }
      default: {
        send(res, 404, {});
        return;
      }
    }
  }

  #discovery(): object {
    const at = (path: string): string => `${this.issuer}${path}`;
    return {
      issuer: this.issuer,
      authorization_endpoint: at('/authorize'),
      token_endpoint: at('/token'),
      jwks_uri: at('/keys'),
      userinfo_endpoint: at('/userinfo'),
      end_session_endpoint: at('/end'),
      response_types_supported: ['code'],
      subject_types_supported: ['public'],
      id_token_signing_alg_values_supported: ['ES256'],
      code_challenge_methods_supported: ['S256'],
    };
  }

  #authorize(asked: URLSearchParams, res: ServerResponse): void {
    const back = new URL(asked.get('redirect_uri') ?? '');
    const { refuse } = this.behaviour;
    if (refuse === null) {
      const code = randomUUID();
      this.#codes.set(code, {
        challenge: asked.get('code_challenge') ?? '',
        redirectUri: back.href,
        nonce: asked.get('nonce') ?? '',
      });
      back.searchParams.set('code', code);
    } else {
      back.searchParams.set('error', refuse.error);
      back.searchParams.set('error_description', refuse.description);
    }
    back.searchParams.set('state', asked.get('state') ?? '');
    res.writeHead(302, { location: back.href }).end();
  }

  async #token(req: IncomingMessage, res: ServerResponse): Promise<void> {
    const form = new URLSearchParams(await text(req));
    const given = this.#codes.get(form.get('code') ?? '');
    this.#codes.delete(form.get('code') ?? '');
    const verifier = createHash('sha256').update(form.get('code_verifier') ?? '');
    const isGood =
      given !== undefined &&
      isClient(req.headers.authorization) &&
      form.get('redirect_uri') === given.redirectUri &&
      verifier.digest('base64url') === given.challenge;
    if (!isGood) {
      send(res, 400, { error: 'invalid_grant' });
      return;
    }
    send(res, 200, {
      access_token: randomUUID(),
      token_type: 'Bearer',
      id_token: await this.#idToken(given.nonce),
    });
  }

  #idToken(nonce: string): Promise<string> {
    const { claims, forge, otherKey } = this.behaviour;
    const now = Math.floor(Date.now() / 1000);
    const told = { iss: this.issuer, aud: CLIENT.id, iat: now, exp: now + 60, nonce, ...claims };
    return new SignJWT(forge(told))
      .setProtectedHeader({ alg: 'ES256', kid: 'one' })
      .sign(otherKey ? this.#keys.other : this.#keys.own);
  }
}

/** RFC 6749 §2.3.1: id and secret are form-encoded before they are joined. */
function isClient(authorization: string | undefined): boolean {
  const joined = Buffer.from((authorization ?? '').replace(/^Basic /, ''), 'base64').toString();
  const parts = joined.split(':').map((part) => new URLSearchParams(`part=${part}`).get('part'));
  return parts.length === 2 && parts[0] === CLIENT.id && parts[1] === CLIENT.secret;
}

function send(res: ServerResponse, status: number, body: unknown): void {
  res.writeHead(status, { 'content-type': 'application/json' }).end(JSON.stringify(body));
}

export async function startTestProvider(): Promise<TestProvider> {
  const own = await generateKeyPair('ES256', { extractable: true });
  const other = await generateKeyPair('ES256');
  const jwk = { ...(await exportJWK(own.publicKey)), kid: 'one', alg: 'ES256', use: 'sig' };
  const keys = { own: own.privateKey, other: other.privateKey, jwks: { keys: [jwk] } };
  const answers = new Answers(keys);
  const server = createServer((req, res) => void answers.answer(req, res));
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  answers.issuer = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  return {
    issuer: answers.issuer,
    behaviour: answers.behaviour,
    async close() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
