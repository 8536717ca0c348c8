import { Ajv2020 } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import { PUBLISHED_SCHEMAS } from '../../../src/contract/schemas.js';
import { minutesAgo, pressure, registerPatient, setOf } from '../../setup/example-sets.js';
import type { SetAnswer } from '../../setup/example-sets.js';
import { openTestGateway } from '../../setup/gateway.js';
import type { TestGateway } from '../../setup/gateway.js';
import { configuration, STRICTER, twoPressures } from './site-configuration.js';

interface Edition {
  readonly edition: string;
  readonly state: string;
  readonly inForceFrom: string | null;
  readonly decisionReason: string | null;
  readonly configuration: unknown;
}
interface Problem {
  readonly detail: string;
  readonly errors?: readonly { readonly pointer: string; readonly message: string }[];
}

let gateway: TestGateway;
let writer: string;
let approver: string;

beforeAll(async () => {
  gateway = await openTestGateway();
  writer = await gateway.token('rules.write rules.approve rules.read');
  approver = await gateway.token('rules.approve');
});
afterAll(() => gateway.close());

const propose = (body: object) =>
  gateway.ask<Edition & Problem>('/rules/editions', { body, token: writer });
const decide = (edition: string, what: 'approve' | 'refuse', body: object, token = approver) =>
  gateway.ask<Edition & Problem>(`/rules/editions/${edition}/${what}`, { body, token });
const proposal = (more: object = {}): object => ({
  configuration: STRICTER,
  reason: 'The two methods lie nearer together here.',
  ...more,
});

/** Everything that judging could be changed by. */
async function inForce(): Promise<unknown> {
  const { rows } = await gateway.database.pool.query(
    'select edition, configuration, in_force_from from editions where in_force_from is not null',
  );
  return rows;
}

describe('the first edition', () => {
  it('is the defaults, in force from the beginning', async () => {
    const list = await gateway.ask<{ inForce: string; editions: Edition[] }>('/rules/editions', {
      token: writer,
    });
    expect(list.body).toMatchObject({
      inForce: '1',
      editions: [{ edition: '1', state: 'in-force', inForceFrom: null, configuration: {} }],
    });
  });
});

describe('a proposal', () => {
  it('is kept as it was sent, under the next number, and judges nothing', async () => {
    const before = await inForce();
    const first = await propose(proposal());
    const second = await propose(proposal({ inForceFrom: '2031-01-01T00:00:00Z' }));
    expect([first.status, second.status]).toEqual([201, 201]);
    expect(Number(second.body.edition)).toBe(Number(first.body.edition) + 1);
    expect(first.body).toMatchObject({
      state: 'proposed',
      configuration: STRICTER,
      reason: 'The two methods lie nearer together here.',
      proposedBy: { client: 'client 1', person: null },
      inForceFrom: null,
    });
    const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true, strictTypes: false });
    addFormats.default(ajv);
    ajv.addSchema(Object.values(PUBLISHED_SCHEMAS));
    ajv.validate('urn:vital-sign-gateway:schema:edition:1', first.body);
    expect(ajv.errors).toBeNull();
    expect(await inForce()).toEqual(before);
  });

  it('is refused whole with every fault named, and the old one stays in force', async () => {
    const before = await inForce();
    const { rows: kept } = await gateway.database.pool.query('select count(*) from editions');
    const refused = await propose({
      configuration: {
        name: 'Larkfield',
        settings: {
          ...configuration({
            'pulse-methods-disagree.difference': [5, '/min'],
            'plausible.body-temperature.value.any.any.rejectAbove': [30, 'Cel'],
            'value-corroborated.pulse-rate': [10, 'kg'],
            'no-such-rule.limit': [3, '/min'],
          }).settings,
          'value-corroborated.respiratory-rate': { at: 6, unit: 'breaths', source: {} },
        },
        rules: { 'value-impossible': { enabled: false } },
      },
      reason: ' ',
      inForceFrom: '2020-01-01T00:00:00Z',
      whim: true,
    });
    expect(refused.status).toBe(400);
    const pointers = (refused.body.errors ?? []).map(({ pointer }) => pointer);
    for (const pointer of [
      '/configuration/settings/pulse-methods-disagree.difference/at',
      '/configuration/settings/plausible.body-temperature.value.any.any.rejectAbove/at',
      '/configuration/settings/value-corroborated.pulse-rate/unit',
      '/configuration/settings/no-such-rule.limit',
      '/configuration/settings/value-corroborated.respiratory-rate/unit',
      '/configuration/rules/value-impossible/enabled',
      '/reason',
      '/inForceFrom',
      '/whim',
    ]) {
      expect(pointers).toContain(pointer);
    }
    expect(await inForce()).toEqual(before);
    const { rows: after } = await gateway.database.pool.query('select count(*) from editions');
    expect(after).toEqual(kept);
  });

  it('that says one limit twice is refused: nobody knows which one is meant', async () => {
    const text = JSON.stringify(proposal()).replace('"at":15', '"at":15,"at":24');
    const refused = await gateway.ask<Problem>('/rules/editions', { body: text, token: writer });
    expect(refused.status).toBe(400);
  });

  it('needs the scope', async () => {
    const reader = await gateway.token('rules.read');
    const refused = await gateway.ask('/rules/editions', { body: proposal(), token: reader });
    expect(refused.status).toBe(403);
  });
});

describe('putting an edition into force', () => {
  it('is not for the client that proposed it', async () => {
    const { edition } = (await propose(proposal())).body;
    const own = await decide(edition, 'approve', { reason: 'Because I say so.' }, writer);
    expect(own.status).toBe(403);
    expect(own.body.detail).toContain('another person');
    const read = await gateway.ask<Edition>(`/rules/editions/${edition}`, { token: writer });
    expect(read.body.state).toBe('proposed');
  });

  it('happens once, not in the past, and not at the moment of another', async () => {
    const { edition } = (await propose(proposal())).body;
    const past = await decide(edition, 'approve', {
      reason: 'It was meant for last year.',
      inForceFrom: '2025-06-01T00:00:00Z',
    });
    expect([past.status, past.body.errors?.[0]?.pointer]).toEqual([400, '/inForceFrom']);
    const inForceFrom = '2031-05-01T00:00:00.000Z';
    const approved = await decide(edition, 'approve', { reason: 'Agreed.', inForceFrom });
    expect(approved.body).toMatchObject({
      state: 'scheduled',
      inForceFrom,
      decisionReason: 'Agreed.',
    });
    expect((await decide(edition, 'approve', { reason: 'Again.' })).status).toBe(409);
    expect((await decide(edition, 'refuse', { reason: 'After all.' })).status).toBe(409);
    const other = (await propose(proposal({ inForceFrom }))).body.edition;
    expect((await decide(other, 'approve', { reason: 'Both.' })).status).toBe(409);
    for (const unknown of ['999', '32767', '32768', '99999', '0', '-1', 'x']) {
      expect((await decide(unknown, 'approve', { reason: 'Which?' })).status).toBe(404);
    }
  });

  it('does not happen after a refusal', async () => {
    const { edition } = (await propose(proposal())).body;
    const refused = await decide(edition, 'refuse', { reason: 'Too strict.' });
    expect(refused.body).toMatchObject({ state: 'refused', inForceFrom: null });
    expect((await decide(edition, 'approve', { reason: 'Yet.' })).status).toBe(409);
  });

  it('waits for its moment, keeps what was judged before, and is on record', async () => {
    const patient = await registerPatient(gateway, 'LF-41001');
    const sender = await gateway.token('sets.write');
    // Hours apart, so that each set is held against itself alone.
    const send = async (hours: number): Promise<SetAnswer> => {
      const body = setOf(patient, twoPressures(), { takenAt: minutesAgo(60 * hours) });
      return (await gateway.ask<SetAnswer>('/sets', { body, token: sender })).body;
    };
    const earlier = await send(3);
    const { edition } = (await propose(proposal())).body;
    const approved = await decide(edition, 'approve', { reason: 'Agreed.' });
    const fromMs = Date.parse(approved.body.inForceFrom ?? '');
    const before = await send(2);
    expect(Date.now()).toBeLessThan(fromMs);
    await new Promise((resolve) => setTimeout(resolve, fromMs - Date.now() + 5));
    const after = await send(1);
    expect([earlier, before, after].map((one) => [one.edition, one.verdict])).toEqual([
      ['1', 'noted'],
      ['1', 'noted'],
      [edition, 'held'],
    ]);
    expect(after.findings.map(({ rule }) => rule)).toEqual(['blood-pressure-methods-disagree']);
    const { rows } = await gateway.database.pool.query<{ edition: number; editions: number }>(
      `select s.edition, max(r.edition) as editions from submissions s
         join readings r on r.set_id = s.set_id where s.set_id = any($1) group by s.submission_id
        order by s.submission_id`,
      [[earlier.setId, before.setId, after.setId]],
    );
    expect(rows.map((row) => [row.edition, row.editions])).toEqual([
      [1, 1],
      [1, 1],
      [Number(edition), Number(edition)],
    ]);
    const { rows: audited } = await gateway.database.pool.query(
      'select action from audit where entity = $1 order by audit_id',
      [`editions/${edition}`],
    );
    expect(audited).toEqual([{ action: 'edition-propose' }, { action: 'edition-approve' }]);
  });

  it('judges a set again by the edition of its receipt, and a decision by the one in force', async () => {
    const sender = await gateway.token('sets.write');
    const sent = async (number: string): Promise<SetAnswer> => {
      const unknown = { number, birthDate: '1967-03-21' };
      const body = setOf(unknown, twoPressures());
      return (await gateway.ask<SetAnswer>('/sets', { body, token: sender })).body;
    };
    const asStored = async ({ setId }: SetAnswer): Promise<SetAnswer> =>
      (await gateway.ask<SetAnswer>(`/sets/${setId}`, { token: sender })).body;
    const waiting = await sent('LF-41002');
    const own = waiting.edition;
    const { edition } = (
      await propose({ configuration: configuration({}), reason: 'Back to the defaults.' })
    ).body;
    const approved = await decide(edition, 'approve', { reason: 'Agreed.' });
    const fromMs = Date.parse(approved.body.inForceFrom ?? '');
    await new Promise((resolve) => setTimeout(resolve, fromMs - Date.now() + 5));
    await registerPatient(gateway, 'LF-41002');
    let settled = await asStored(waiting);
    for (let i = 0; i < 100 && settled.readings[0]?.version === 1; i += 1) {
      await new Promise((resolve) => setTimeout(resolve, 50));
      settled = await asStored(waiting);
    }
    // The stricter edition, by which it was received, holds it.
    expect([settled.edition, settled.verdict]).toEqual([own, 'held']);
    const corrected = await gateway.ask<SetAnswer>(`/sets/${waiting.setId}/readings/0/decisions`, {
      token: sender,
      body: {
        action: 'correct',
        reason: 'Read again.',
        reasonCode: 'entry-error',
        expectedVersion: 2,
        reading: pressure('auscultation', 124, 76),
      },
    });
    expect(corrected.status).toBe(200);
    const { rows } = await gateway.database.pool.query<{ edition: number; version: number }>(
      'select edition, version from readings where reading_id = $1 order by version',
      [waiting.readings[0]?.reading],
    );
    expect(rows.map((row) => String(row.edition))).toEqual([own, own, edition]);
  });
});
