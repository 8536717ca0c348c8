import { MRN, minutesAgo, oxygen, registerPatient, setOf } from '../setup/example-sets.js';
import type { SetAnswer, TestPatient } from '../setup/example-sets.js';
import { until } from '../serve/http/start-app.js';
import { openTestGateway } from '../setup/gateway.js';
import type { TestGateway } from '../setup/gateway.js';

let gateway: TestGateway;
let admin: string;
let first: TestPatient;
let second: TestPatient;

beforeAll(async () => {
  gateway = await openTestGateway();
  admin = await gateway.token('admin');
  first = await registerPatient(gateway, 'LF-81');
  second = await registerPatient(gateway, 'LF-82');
});
afterAll(() => gateway.close());

async function register(path: string, body: object): Promise<Record<string, unknown>> {
  const answer = await gateway.ask(`/admin/${path}`, { token: admin, body });
  if (answer.status !== 201) throw new Error(answer.text);
  return answer.body;
}

const rulesOf = ({ findings }: SetAnswer): string[] => findings.map(({ rule }) => rule);

describe('what is registered of a sender and its devices', () => {
  it('holds a synchronised source to less in time, also when its patient is settled later', async () => {
    const source = { name: 'synchronised', attended: true };
    await register('sources', { ...source, synchronised: true });
    const synchronised = await gateway.token('sets.write sets.check', source);
    const other = await gateway.token('sets.write sets.check');
    const ahead = { takenAt: minutesAgo(-3) };
    const send = (path: string, token: string, patient = first) =>
      gateway.ask<SetAnswer>(path, { token, body: setOf(patient, [oxygen(97)], ahead) });
    for (const path of ['/sets/check', '/sets']) {
      expect(rulesOf((await send(path, synchronised)).body)).toContain('time-in-future');
      // Of somebody else: of one patient it would be the same reading.
      const told = (await send(path, other, second)).body;
      expect(rulesOf(told)).not.toContain('time-in-future');
    }
    const unknown = { number: 'LF-83', birthDate: '1967-03-21' };
    const { setId } = (await send('/sets', synchronised, unknown)).body;
    await registerPatient(gateway, unknown.number);
    let rules: string[] = [];
    await until(async () => {
      rules = rulesOf(
        (await gateway.ask<SetAnswer>(`/sets/${setId}`, { token: synchronised })).body,
      );
      return !rules.includes('patient-unknown');
    });
    expect(rules).toContain('time-in-future');
  });

  it('holds what a device brings that is another patient’s then, however it is spelled', async () => {
    const { device } = await register('devices', { identifier: { eui64: '001ac5fffe204b07' } });
    const patient = {
      identifier: { system: MRN, value: first.number },
      birthDate: first.birthDate,
    };
    await register(`devices/${String(device)}/associations`, { patient, from: minutesAgo(60) });
    const token = await gateway.token('sets.write sets.check');
    const system = 'urn:oid:1.2.840.10004.1.1.1.0.0.1.0.0.1.2680';
    const reading = (value: string) => ({
      ...oxygen(96),
      device: { identifier: { system, value } },
    });
    for (const spelled of ['00-1A-C5-FF-FE-20-4B-07', '00:1a:c5:ff:fe:20:4b:07']) {
      for (const path of ['/sets/check', '/sets']) {
        const send = (one: TestPatient) =>
          gateway.ask<SetAnswer>(path, { token, body: setOf(one, [reading(spelled)]) });
        expect(rulesOf((await send(second)).body)).toContain('association-of-another');
        expect(rulesOf((await send(first)).body)).not.toContain('association-of-another');
      }
    }
  });
});
