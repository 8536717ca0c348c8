/** A gateway with people who sign in, and readings that are held for known reasons. */
import { openTestGateway } from './gateway.js';
import type { TestGateway } from './gateway.js';
import { pressure, registerPatient, setOf } from './example-sets.js';
import type { SetAnswer, TestPatient } from './example-sets.js';
import { registerPeople } from './people.js';
import type { Passwords } from './people.js';

export interface HeldWard {
  readonly gateway: TestGateway;
  readonly passwords: Passwords;
  readonly patient: TestPatient;
  readonly send: (
    readings: readonly Readonly<Record<string, unknown>>[],
    more?: Readonly<Record<string, unknown>>,
  ) => Promise<SetAnswer>;
  /** Ids of held readings, two methods apart by so much that neither is trusted; the first critical or not. */
  readonly sendDisagreement: (systolic?: number) => Promise<readonly [string, string]>;
  /** Id of a weight held because it is rare. */
  readonly sendRareWeight: () => Promise<string>;
}

export async function openHeldWard(env: Readonly<Record<string, string>> = {}): Promise<HeldWard> {
  const gateway = await openTestGateway(env, { localSignIn: true });
  const passwords = await registerPeople(gateway);
  const patient = await registerPatient(gateway, 'LF-40001');
  const token = await gateway.token('sets.write');
  let weights = 0;
  const send: HeldWard['send'] = async (readings, more = {}) => {
    const body = setOf(patient, readings, more);
    const answer = await gateway.ask<SetAnswer>('/sets', { token, body });
    if (answer.status !== 201) throw new Error(answer.text);
    return answer.body;
  };
  const idAt = ({ readings }: SetAnswer, index: number): string => readings[index]?.reading ?? '';
  return {
    ...{ gateway, passwords, patient, send },
    async sendDisagreement(systolic = 118) {
      const answer = await send([
        pressure('auscultation', systolic, 76 - (118 - systolic) / 2),
        pressure('oscillometry', systolic + 36, 84),
      ]);
      return [idAt(answer, 0), idAt(answer, 1)];
    },
    async sendRareWeight() {
      weights += 1;
      return idAt(await send([{ vital: 'body-weight', value: 284 + weights, unit: 'kg' }]), 0);
    },
  };
}
