import { auditRows } from '../../setup/audit-rows.js';
import { MRN, oxygen, registerPatient, setOf } from '../../setup/example-sets.js';
import { fillDeskWard, openDeskWard } from '../../setup/desk-ward.js';
import type { DeskWard } from '../../setup/desk-ward.js';
import { visitAs } from '../../setup/people.js';
import type { Visitor } from '../../setup/people.js';

let ward: DeskWard;
let analyst: Visitor;

beforeAll(async () => {
  ward = await openDeskWard();
  await fillDeskWard(ward);
  analyst = await visitAs(ward.gateway, ward.passwords, 'ines');
});
afterAll(() => ward.gateway.close());

const pageOf = async (path: string): Promise<string> => (await analyst.get(path)).text();
const readingsIn = (page: string): string[] =>
  [...page.matchAll(/href="\/desk\/readings\/([0-9a-f-]{36})"/g)].map(([, id = '']) => id);

describe('searching what was rejected', () => {
  it('never takes a patient in an address, and says so', async () => {
    const answer = await analyst.get('/desk/rejected?patient=DW-1');
    expect(answer.status).toBe(400);
    expect(await answer.text()).toContain('never named in an address');
  });

  it.each([
    [{ patient: 'DW-2' }, 1],
    [{ patient: `${MRN}|DW-1` }, 2],
    [{ patient: 'urn:example:other|DW-1' }, 0],
    [{ patient: 'DW-1', rule: 'unit-unknown' }, 1],
  ])('finds by %j in the body of a form', async (fields, count) => {
    const answer = await analyst.post('/desk/rejected/search', fields);
    expect(answer.status).toBe(200);
    expect(readingsIn(await answer.text())).toHaveLength(count);
  });

  it.each([
    ['ward=larkfield', 2],
    ['ward=larkfield/3', 1],
    ['ward=lark', 0],
    ['source=ward+tablets', 3],
    ['source=nobody', 0],
    ['vital=blood-pressure', 1],
    ['rule=value-impossible', 1],
    ['by=rules', 3],
    ['by=person', 0],
    ['reason=entry-error', 0],
    ['from=2020-01-01T00%3A00', 3],
    ['to=2020-01-01', 0],
  ])('finds by %s', async (query, count) => {
    expect(readingsIn(await pageOf(`/desk/rejected?${query}`))).toHaveLength(count);
  });

  it('says what is wrong with a field, and searches nothing', async () => {
    const answer = await analyst.get('/desk/rejected?from=soon&vital=mood&ward=%00');
    expect(answer.status).toBe(400);
    const page = await answer.text();
    expect(page).toContain('must be a date');
    expect(page).toContain('must be one of respiratory-rate');
    expect(page).toContain('no control characters');
    expect(readingsIn(page)).toEqual([]);
  });

  it('shows what a person rejected, with the reason that was given', async () => {
    const patient = await registerPatient(ward.gateway, 'DW-9');
    const token = await ward.gateway.token('sets.write review.write');
    const doubtful = setOf(patient, [{ vital: 'body-weight', value: 350, unit: 'kg' }]);
    const sent = await ward.gateway.ask<{ readings: { reading: string; verdict: string }[] }>(
      '/sets',
      {
        token,
        body: doubtful,
      },
    );
    const [reading] = sent.body.readings;
    expect(reading?.verdict).toBe('held');
    const decided = await ward.gateway.ask(`/review/readings/${reading?.reading ?? ''}/decisions`, {
      token,
      body: {
        action: 'reject',
        reason: 'Typed twice',
        reasonCode: 'entry-error',
        expectedVersion: 1,
      },
    });
    expect(decided.status).toBe(200);
    expect(readingsIn(await pageOf('/desk/rejected?by=person'))).toEqual([reading?.reading]);
    expect(readingsIn(await pageOf('/desk/rejected?reason=entry-error'))).toEqual([
      reading?.reading,
    ]);
    expect(readingsIn(await pageOf('/desk/rejected?reason=duplicate'))).toEqual([]);
  });
});

describe('turning pages', () => {
  it('meets each reading once, while others are rejected', async () => {
    const patient = await registerPatient(ward.gateway, 'DW-20');
    const token = await ward.gateway.token('sets.write', { name: 'bulk', attended: true });
    const readings = Array.from({ length: 60 }, (_none, index) => oxygen(200 + index));
    const send = (some: readonly Record<string, unknown>[]) =>
      ward.gateway.ask('/sets', { token, body: setOf(patient, some) });
    await send(readings);
    await send(readings.slice(0, 45).map((one) => ({ ...one, value: 300 })));
    const first = await pageOf('/desk/rejected?source=bulk');
    expect(first).toContain('50 of 105 rejected readings');
    const met = readingsIn(first);
    let next = /href="(\/desk\/rejected\?[^"]*cursor=[^"]*)"/.exec(first)?.[1];
    while (next !== undefined) {
      await send([oxygen(400)]);
      const page = await pageOf(next.replaceAll('&amp;', '&'));
      met.push(...readingsIn(page));
      next = /href="(\/desk\/rejected\?[^"]*cursor=[^"]*)" rel="next"/.exec(page)?.[1];
    }
    expect(met).toHaveLength(105);
    expect(new Set(met).size).toBe(105);
  });

  it('refuses a place of another search', async () => {
    const first = await pageOf('/desk/rejected?source=bulk');
    const cursor = /cursor=([^"&]+)/.exec(first)?.[1] ?? '';
    expect((await analyst.get(`/desk/rejected?cursor=${cursor}`)).status).toBe(400);
    expect((await analyst.get('/desk/rejected?cursor=x')).status).toBe(400);
  });
});

describe('a table taken out', () => {
  it('is on record with what it held, and without what was searched for in clear', async () => {
    const answer = await analyst.post('/desk/rejected/csv', { patient: 'DW-2' });
    expect(answer.headers.get('content-type')).toContain('text/csv');
    expect((await answer.text()).split('\r\n')).toHaveLength(3);
    const rows = await auditRows(ward.gateway.database.pool, "action = 'export-csv'", [], 2);
    const written = JSON.stringify(rows);
    expect(written).toContain('"readings":[');
    expect(written).not.toContain('DW-2');
  });
});
