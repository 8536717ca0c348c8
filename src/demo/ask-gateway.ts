/** Talks to a running gateway over HTTP as any client would; what keeps it from answering is one plain sentence. */
import { StartError } from '../errors.js';
import type { DemoCredentials } from './demo-clients.js';

export interface Asked {
  readonly method?: 'GET' | 'POST';
  readonly body?: string;
  readonly headers: Readonly<Record<string, string>>;
}

async function ask(url: string, asked: Asked): Promise<Response> {
  try {
    return await fetch(url, asked);
  } catch {
    throw new StartError(
      `No gateway answers at ${new URL(url).origin}. Start it with “npm start”, under the same DATA_DIR, PORT and PUBLIC_URL as this command.`,
    );
  }
}

/**
 * What a 2xx answer holds.
 *
 * @throws StartError when there is another answer, or none.
 */
export async function askJson<T>(url: string, asked: Asked): Promise<T> {
  const response = await ask(url, asked);
  const text = await response.text();
  if (response.ok) return JSON.parse(text) as T;
  throw new StartError(`${url} answered ${response.status}: ${text}`);
}

/** What the token endpoint answers to a client that proves itself by `client_secret_basic` (RFC 6749 §2.3.1). */
export function askToken(
  baseUrl: string,
  { clientId, clientSecret }: Pick<DemoCredentials[number], 'clientId' | 'clientSecret'>,
): Promise<Response> {
  const basic = Buffer.from(`${clientId}:${clientSecret}`).toString('base64');
  return ask(`${baseUrl}/auth/token`, {
    method: 'POST',
    body: 'grant_type=client_credentials',
    headers: {
      authorization: `Basic ${basic}`,
      'content-type': 'application/x-www-form-urlencoded',
    },
  });
}

/** The Authorization header of a demo client. */
export async function signIn(
  baseUrl: string,
  client: DemoCredentials[number],
): Promise<{ readonly authorization: string }> {
  const response = await askToken(baseUrl, client);
  if (!response.ok) {
    throw new StartError(
      `The gateway at ${baseUrl} does not take the demo credentials (${response.status}): it runs on another DATA_DIR.`,
    );
  }
  const { access_token: token } = (await response.json()) as { access_token: string };
  return { authorization: `Bearer ${token}` };
}
