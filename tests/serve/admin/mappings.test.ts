import { noteMappingTried } from '../../../src/store/source-mappings.js';
import { openRegistryDesk, pointersOf } from './registry-desk.js';
import type { RegistryDesk } from './registry-desk.js';

const SYSTOLIC = {
  system: 'WARD',
  code: 'S1',
  vital: 'blood-pressure',
  part: 'systolic',
  method: 'oscillometry',
  site: 'upper-arm',
};
const MAPPING = {
  codes: [SYSTOLIC, { code: 'T', vital: 'body-temperature', site: 'tympanic' }],
  units: [{ alias: 'mmHg', unit: 'mm[Hg]' }],
};

let desk: RegistryDesk;
let path: string;
let sources = 0;

beforeAll(async () => {
  desk = await openRegistryDesk();
});
beforeEach(async () => {
  sources += 1;
  const source = await desk.send('POST', '/sources', {
    name: `engine ${sources}`,
    attended: false,
  });
  path = `/sources/${String(source.body.source)}/mappings`;
});
afterAll(() => desk.gateway.close());

const propose = (mapping: unknown) => desk.send('POST', path, { mapping, reason: 'As agreed' });
const force = (number: unknown, body: object) =>
  desk.send('POST', `${path}/${String(number)}/force`, body);

describe('mappings of a source', () => {
  it('are proposed, tried, put in force, and put in force again', async () => {
    const { pool } = desk.gateway.database;
    const first = await propose(MAPPING);
    expect([first.status, first.body]).toMatchObject([
      201,
      { number: 1, inForce: false, mapping: MAPPING, reason: 'As agreed', triedAt: null },
    ]);
    const second = await propose({ codes: [], units: [] });
    expect(second.body.number).toBe(2);

    const untried = await force(1, { reason: 'Looks right' });
    expect(untried.status).toBe(409);
    const sourceId = path.split('/')[2] ?? '';
    expect(await noteMappingTried(pool, sourceId, 1, Date.now())).toBe(true);
    expect(await noteMappingTried(pool, sourceId, 9, Date.now())).toBe(false);
    const forced = await force(1, { reason: 'Six messages read as they should' });
    expect(forced.body).toMatchObject({
      number: 1,
      inForce: true,
      putInForceBy: 'client 1',
      forceReason: 'Six messages read as they should',
    });
    const without = await force(2, { reason: 'The codes were withdrawn', untried: true });
    expect(without.body).toMatchObject({ number: 2, inForce: true, triedAt: null });
    expect((await force(1, { reason: 'They were not' })).status).toBe(200);

    const list = await desk.send('GET', path);
    expect(list.body.inForce).toBe(1);
    expect(
      (list.body.mappings as { number: number; inForce: boolean }[]).map(({ number, inForce }) => [
        number,
        inForce,
      ]),
    ).toEqual([
      [1, true],
      [2, false],
    ]);
    expect((await desk.send('GET', `${path}/1`)).body).toMatchObject({ number: 1, inForce: true });
    expect(await desk.auditOf(`sources/${sourceId}/mappings/1`)).toEqual([
      ['mapping-propose', 201],
      ['mapping-force', 200],
      ['mapping-force', 200],
    ]);
    const { rows } = await pool.query<{ detail: unknown }>(
      "select detail from audit where action = 'mapping-force' and entity = $1",
      [`sources/${sourceId}/mappings/2`],
    );
    expect(rows).toEqual([{ detail: { tried: false, reason: 'The codes were withdrawn' } }]);
  });

  it('get each a number of their own when they come at once', async () => {
    const answers = await Promise.all([1, 2, 3, 4].map(() => propose(MAPPING)));
    expect(answers.map(({ body }) => body.number).sort()).toEqual([1, 2, 3, 4]);
  });

  it.each([
    [{}, ['/mapping', '/mapping']],
    [{ codes: [{ vital: 'pulse-rate' }], units: [] }, ['/mapping/codes/0']],
    [{ codes: [{ code: 'x', vital: 'mood' }], units: [] }, ['/mapping/codes/0/vital']],
    [{ codes: [{ code: 'x', vital: 'consciousness' }], units: [] }, ['/mapping/codes/0/vital']],
    [{ codes: [{ ...SYSTOLIC, part: undefined }], units: [] }, ['/mapping/codes/0']],
    [
      { codes: [{ ...SYSTOLIC, vital: 'body-weight' }], units: [] },
      ['/mapping/codes/0/part', '/mapping/codes/0/method', '/mapping/codes/0/site'],
    ],
    [{ codes: [SYSTOLIC, SYSTOLIC], units: [] }, ['/mapping/codes/1']],
    [{ codes: [{ code: '\u0000', vital: 'pulse-rate' }], units: [] }, ['/mapping/codes/0/code']],
    [{ codes: [], units: [{ alias: 'kPa', unit: 'mm[Hg]' }] }, ['/mapping/units/0/alias']],
    [{ codes: [], units: [{ alias: 'mmHg', unit: 'mmHg' }] }, ['/mapping/units/0/unit']],
    [
      { codes: [], units: [MAPPING.units[0], { alias: 'mmHg', unit: 'kPa' }] },
      ['/mapping/units/1'],
    ],
    [{ codes: [], units: [], colours: [] }, ['/mapping/colours']],
  ])('are refused whole, each fault named: %j', async (mapping, pointers) => {
    const refused = await propose(mapping);
    expect([refused.status, pointersOf(refused)]).toEqual([400, pointers]);
    expect((await desk.send('GET', path)).body.mappings).toEqual([]);
  });

  it('are bounded, and need a reason', async () => {
    const codes = Array.from({ length: 1001 }, (_, place) => ({
      code: `c${place}`,
      vital: 'pulse-rate',
    }));
    const many = await propose({ codes, units: [] });
    expect([many.status, pointersOf(many)]).toEqual([400, ['/mapping/codes']]);
    expect(many.body.errors?.[0]?.message).toBe('must not hold more than 1000');
    const silent = await desk.send('POST', path, { mapping: MAPPING, reason: ' ' });
    expect([silent.status, pointersOf(silent)]).toEqual([400, ['/reason']]);
    await propose(MAPPING);
    expect((await force(1, {})).status).toBe(400);
    expect((await force(1, { reason: 'x', untried: 'yes' })).status).toBe(400);
  });

  it('are of a source that is there, and have a number that is there', async () => {
    const absent = '/sources/0190a2c4-0000-4000-8000-000000000005/mappings';
    const body = { mapping: MAPPING, reason: 'As agreed' };
    expect((await desk.send('POST', absent, body)).status).toBe(404);
    expect((await desk.send('GET', absent)).status).toBe(404);
    for (const number of ['1', '0', '-1', '99999', 'x', '%00', '1e3']) {
      expect((await desk.send('GET', `${path}/${number}`)).status).toBe(404);
      expect((await force(number, { reason: 'x' })).status).toBe(404);
    }
  });
});
