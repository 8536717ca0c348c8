import { RULES } from '../../../src/rules/index.js';
import { registerPatient, setOf } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { faultsOf } from '../review/review-desk.js';
import { configuration, twoPressures } from './site-configuration.js';

interface Setting {
  readonly id: string;
  readonly at: number;
  readonly unit: string;
  readonly source: string;
  readonly changed: boolean;
  readonly default: { readonly at: number; readonly source: string };
}
interface Rules {
  readonly edition: string;
  readonly rules: readonly {
    readonly rule: string;
    readonly verdict: string;
    readonly spoke: { readonly last24Hours: number; readonly last7Days: number };
    readonly disabled: boolean;
    readonly settings: readonly Setting[];
  }[];
  readonly interpretation: { readonly settings: readonly Setting[] };
  readonly derivedValues: { readonly enabled: boolean; readonly settings: readonly Setting[] };
}

let gateway: TestGateway;
let reader: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  reader = await gateway.token('rules.read');
});
afterAll(() => gateway.close());

const ask = async (): Promise<Rules> =>
  (await gateway.ask<Rules>('/rules', { token: reader })).body;

async function until<T>(look: () => Promise<T>, isSo: (found: T) => boolean): Promise<T> {
  for (let i = 0; i < 100; i += 1) {
    const found = await look();
    if (isSo(found)) return found;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  throw new Error('it has not come to be so within ten seconds');
}

const spokenBy = (rules: Rules, id: string) =>
  rules.rules.find(({ rule }) => rule === id)?.spoke.last24Hours ?? -1;

describe('GET /rules', () => {
  it('lists every rule that is heard, with its numbers and where they come from', async () => {
    const rules = await ask();
    expect(faultsOf('rules:1', rules)).toEqual([]);
    expect(rules.rules.map(({ rule }) => rule)).toEqual(RULES.map(({ id }) => id));
    const pulse = rules.rules.find(({ rule }) => rule === 'pulse-methods-disagree');
    expect(pulse?.settings).toContainEqual(
      expect.objectContaining({
        id: 'pulse-methods-disagree.difference',
        at: 20,
        unit: '/min',
        changed: false,
      }),
    );
    const impossible = rules.rules.find(({ rule }) => rule === 'value-impossible');
    expect(impossible?.settings.some(({ id }) => id.startsWith('plausible.'))).toBe(true);
    expect(rules.interpretation.settings.some(({ id }) => id.endsWith('.criticalHigh'))).toBe(true);
    expect(rules.derivedValues).toMatchObject({
      enabled: false,
      settings: [
        {
          id: 'derived-values.mean-factor',
          at: 1 / 3,
          unit: '1',
          changed: false,
          source: expect.stringContaining('Bos et al., J Hypertens 25:751') as string,
        },
      ],
    });
  });

  it('says how often each rule spoke, whatever became of the reading', async () => {
    const patient = await registerPatient(gateway, 'LF-43001');
    const token = await gateway.token('sets.write');
    const before = spokenBy(await ask(), 'blood-pressure-methods-differ');
    const body = setOf(patient, twoPressures());
    expect((await gateway.ask('/sets', { body, token })).status).toBe(201);
    // The same set again is answered from what is kept; nothing was judged.
    expect((await gateway.ask('/sets', { body, token })).headers.get('repeat')).toBe('true');
    const after = await until(
      ask,
      (rules) => spokenBy(rules, 'blood-pressure-methods-differ') > before,
    );
    expect(spokenBy(after, 'blood-pressure-methods-differ')).toBe(before + 1);
    expect(spokenBy(after, 'blood-pressure-methods-disagree')).toBe(0);
  });

  it('counts a day by the hour, and a week', async () => {
    const { pool } = gateway.database;
    await pool.query(
      `insert into rule_counts (rule, counted_hour, times)
       select 'value-doubtful', date_trunc('hour', now()) - h * interval '1 hour', 1
         from generate_series(0, 7 * 24 + 5) as h`,
    );
    const found = (await ask()).rules.find(({ rule }) => rule === 'value-doubtful');
    expect(found?.spoke).toEqual({ last24Hours: 24, last7Days: 7 * 24 });
  });

  it('shows the numbers of the edition in force, the default beside them', async () => {
    const { edition } = (
      await gateway.ask<{ edition: string }>('/rules/editions', {
        token: await gateway.token('rules.write'),
        body: {
          configuration: {
            ...configuration({
              'pulse-methods-disagree.difference': [24, '/min'],
              'derived-values.mean-factor': [0.4, '1'],
            }),
            derivedValues: { enabled: true },
            rules: { 'blood-pressure-methods-differ': { enabled: false } },
          },
          reason: 'Tried in a trial.',
        },
      })
    ).body;
    await gateway.ask(`/rules/editions/${edition}/approve`, {
      token: await gateway.token('rules.approve'),
      body: { reason: 'Agreed.' },
    });
    const rules = await until(ask, (found) => found.edition === edition);
    const pulse = rules.rules.find(({ rule }) => rule === 'pulse-methods-disagree');
    expect(
      pulse?.settings.find(({ id }) => id === 'pulse-methods-disagree.difference'),
    ).toMatchObject({
      at: 24,
      changed: true,
      source: 'Larkfield, ward rules, 2, 2026 (set by this site)',
      default: { at: 20 },
    });
    expect(rules.derivedValues).toMatchObject({
      enabled: true,
      settings: [{ at: 0.4, changed: true, default: { at: 1 / 3 } }],
    });
    expect(rules.rules.filter(({ disabled }) => disabled).map(({ rule }) => rule)).toEqual([
      'blood-pressure-methods-differ',
    ]);
  });

  it('needs the scope', async () => {
    const token = await gateway.token('review.read');
    expect((await gateway.ask('/rules', { token })).status).toBe(403);
  });
});
