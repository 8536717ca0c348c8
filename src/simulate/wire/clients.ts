/** The clients that the simulator speaks as: whichever of them may do what is to be done. */
import { askToken } from '../../demo/ask-gateway.js';
import { StartError } from '../../errors.js';
import { hasScope } from '../../serve/auth/scopes.js';
import type { Scope } from '../../serve/auth/scopes.js';

export interface Credentials {
  readonly clientId: string;
  readonly clientSecret: string;
}

interface SignedIn {
  readonly credentials: Credentials;
  readonly scopes: readonly string[];
  token: string;
  expiresAtMs: number;
}

/** A token is renewed when less than this is left of it: no message is to meet one that has just expired. */
const SPARE_MS = 60_000;

interface TokenAnswer {
  readonly access_token: string;
  readonly expires_in: number;
  readonly scope: string;
}

export class Clients {
  readonly #baseUrl: string;
  readonly #clients: readonly SignedIn[];
  readonly #renewals = new Map<SignedIn, Promise<void>>();

  private constructor(baseUrl: string, clients: readonly SignedIn[]) {
    this.#baseUrl = baseUrl;
    this.#clients = clients;
  }

  /**
   * Signs all of them in.
   * @throws StartError when the gateway does not answer or does not take one of them.
   */
  static async signIn(baseUrl: string, all: readonly Credentials[]): Promise<Clients> {
    const clients = await Promise.all(
      all.map(async (credentials) => {
        const answer = await requestToken(baseUrl, credentials);
        return { credentials, scopes: answer.scope.split(' '), ...lifeOf(answer) };
      }),
    );
    return new Clients(baseUrl, clients);
  }

  may(scope: Scope): boolean {
    return this.#find(scope) !== undefined;
  }

  /** An Authorization header. Ask first whether any client {@link may}. */
  async authorizationFor(scope: Scope): Promise<string> {
    const client = this.#find(scope);
    if (client === undefined) throw new StartError(`No client has the scope ${scope}.`);
    if (client.expiresAtMs - Date.now() < SPARE_MS) await this.#renew(client);
    return `Bearer ${client.token}`;
  }

  #find(scope: Scope): SignedIn | undefined {
    return this.#clients.find(({ scopes }) => hasScope(scopes, scope));
  }

  /** One request, however many messages wait for it. */
  #renew(client: SignedIn): Promise<void> {
    const underWay = this.#renewals.get(client);
    if (underWay !== undefined) return underWay;
    const renewal = requestToken(this.#baseUrl, client.credentials)
      .then((answer) => {
        Object.assign(client, lifeOf(answer));
      })
      .finally(() => this.#renewals.delete(client));
    this.#renewals.set(client, renewal);
    return renewal;
  }
}

function lifeOf(answer: TokenAnswer): Pick<SignedIn, 'token' | 'expiresAtMs'> {
  return { token: answer.access_token, expiresAtMs: Date.now() + answer.expires_in * 1000 };
}

async function requestToken(baseUrl: string, credentials: Credentials): Promise<TokenAnswer> {
  const response = await askToken(baseUrl, credentials);
  if (response.ok) return (await response.json()) as TokenAnswer;
  throw new StartError(
    `The gateway at ${baseUrl} does not take the credentials of client ${credentials.clientId} (${response.status}).`,
  );
}
