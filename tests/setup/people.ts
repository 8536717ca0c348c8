/** The demo's people at a test gateway, signed in over HTTP without a browser. */
import { registerDemoPeople } from '../../src/demo/demo-people.js';
import type { TestGateway } from './gateway.js';

/** Who: two nurses, two analysts, a manager, an integration engineer. */
export type DemoLogin = 'hazel' | 'tobias' | 'ines' | 'rafe' | 'odette' | 'kofi';

export type Passwords = (login: DemoLogin) => string;

/** Registers the demo's people; gives each one's password. The gateway must take local sign-ins. */
export async function registerPeople(gateway: TestGateway): Promise<Passwords> {
  const people = await registerDemoPeople(gateway.database.pool);
  return (login) => people.find((one) => one.login === login)?.password ?? '';
}

/** A person's browser, as far as HTTP goes: it follows no redirect. */
export interface Visitor {
  readonly cookie: string;
  readonly csrf: string;
  readonly get: (path: string, headers?: Readonly<Record<string, string>>) => Promise<Response>;
  /** Sends a form, with the session's token unless the fields have another. */
  readonly post: (path: string, fields?: Readonly<Record<string, string>>) => Promise<Response>;
}

/** The value of the first cookie that an answer sets, with its name. */
export function cookieOf(answer: Response): string {
  const [cookie = ''] = answer.headers.getSetCookie();
  return cookie.split(';')[0] ?? '';
}

export function sendForm(
  url: string,
  fields: Readonly<Record<string, string>>,
  headers: Readonly<Record<string, string>> = {},
): Promise<Response> {
  return fetch(url, {
    method: 'POST',
    redirect: 'manual',
    headers: { accept: 'text/html', ...headers },
    body: new URLSearchParams(fields),
  });
}

export async function visitAs(
  gateway: TestGateway,
  passwords: Passwords,
  login: DemoLogin,
): Promise<Visitor> {
  const { url } = gateway;
  const answer = await sendForm(`${url}/signin`, { login, password: passwords(login) });
  if (answer.status !== 303) throw new Error(await answer.text());
  const cookie = cookieOf(answer);
  const get: Visitor['get'] = (path, headers = {}) =>
    fetch(`${url}${path}`, {
      redirect: 'manual',
      headers: { accept: 'text/html', cookie, ...headers },
    });
  // Every page of somebody signed in has the token, an error page too.
  const page = await (await get('/desk')).text();
  const csrf = /name="csrf-token" content="([^"]+)"/.exec(page)?.[1] ?? '';
  const post: Visitor['post'] = (path, fields = {}) =>
    sendForm(`${url}${path}`, { csrf, ...fields }, { cookie });
  return { cookie, csrf, get, post };
}
