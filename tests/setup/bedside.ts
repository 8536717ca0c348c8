/** A person at the bedside page, as far as HTTP goes. */
import type { Told, TestGateway } from './gateway.js';
import { visitAs } from './people.js';
import type { DemoLogin, Passwords } from './people.js';

export interface BedsidePerson {
  readonly token: string;
  readonly identifier: { readonly system: string; readonly value: string };
  readonly voucher: () => Promise<string>;
  readonly send: <T = Record<string, unknown>>(
    set: object,
    headers?: Readonly<Record<string, string>>,
  ) => Promise<Told<T>>;
}

/** Signs a demo person in and gets a token, as the page does. */
export async function atBedside(
  gateway: TestGateway,
  passwords: Passwords,
  login: DemoLogin,
): Promise<BedsidePerson> {
  const { cookie, csrf } = await visitAs(gateway, passwords, login);
  const headers = { cookie, 'x-csrf-token': csrf };
  const { body } = await gateway.ask<{
    access_token: string;
    person: { system: string; value: string };
  }>('/signin/token', { method: 'POST', headers });
  const { access_token: token, person } = body;
  return {
    token,
    identifier: { system: person.system, value: person.value },
    async voucher() {
      const answer = await gateway.ask<{ voucher: string }>('/bedside/vouchers', {
        method: 'POST',
        token,
      });
      return answer.body.voucher;
    },
    send: (set, more = {}) => gateway.ask('/sets', { body: set, token, headers: more }),
  };
}
