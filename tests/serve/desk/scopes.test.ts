import { fillDeskWard, openDeskWard } from '../../setup/desk-ward.js';
import type { DeskWard } from '../../setup/desk-ward.js';
import { visitAs } from '../../setup/people.js';
import type { DemoLogin, Visitor } from '../../setup/people.js';

let ward: DeskWard;
const visitors = new Map<DemoLogin, Visitor>();

beforeAll(async () => {
  ward = await openDeskWard();
  await fillDeskWard(ward);
  for (const login of ['hazel', 'ines', 'odette', 'kofi'] as const) {
    visitors.set(login, await visitAs(ward.gateway, ward.passwords, login));
  }
});
afterAll(() => ward.gateway.close());

function visitor(login: DemoLogin): Visitor {
  const found = visitors.get(login);
  if (found === undefined) throw new Error(`${login} has not signed in`);
  return found;
}

const NO_ONE = '00000000-0000-0000-0000-000000000000';

/** nurse: bedside; analyst: reviews, exports, tries rules; manager: exports, approves; engineer: admin. */
describe.each<[path: string, nurse: number, analyst: number, manager: number, engineer: number]>([
  ['/desk/rejected', 403, 200, 200, 200],
  ['/desk/rejected?of=submissions', 403, 200, 200, 200],
  ['/desk/rejected?of=rows', 403, 200, 200, 200],
  ['/desk/rejected/counts', 403, 200, 200, 200],
  ['/desk/rejected/again', 403, 200, 403, 403],
  [`/desk/submissions/${NO_ONE}`, 403, 404, 404, 404],
  [`/desk/submissions/${NO_ONE}/bytes`, 403, 404, 404, 404],
  ['/desk/submissions/x', 403, 404, 404, 404],
  ['/desk/rules', 403, 200, 200, 200],
  ['/desk/rules/editions', 403, 200, 200, 200],
  ['/desk/rules/editions/1', 403, 200, 200, 200],
  ['/desk/rules/editions/99999', 403, 404, 404, 404],
  ['/desk/rules/trials', 403, 200, 403, 403],
  ['/desk/rules/trials/new', 403, 200, 403, 403],
  [`/desk/rules/trials/${NO_ONE}`, 403, 404, 403, 403],
  ['/desk/sources', 403, 403, 403, 200],
  ['/desk/sources/devices', 403, 403, 403, 200],
  [`/desk/sources/${NO_ONE}`, 403, 403, 403, 404],
  [`/desk/sources/${NO_ONE}/try`, 403, 403, 403, 404],
  [`/desk/sources/${NO_ONE}/mappings/new`, 403, 403, 403, 404],
])('GET %s', (path, nurse, analyst, manager, engineer) => {
  it('is for those whose role allows it', async () => {
    const told = await Promise.all(
      (['hazel', 'ines', 'odette', 'kofi'] as const).map(
        async (login) => (await visitor(login).get(path)).status,
      ),
    );
    expect(told).toEqual([nurse, analyst, manager, engineer]);
  });

  it('asks who it is', async () => {
    const answer = await fetch(`${ward.gateway.url}${path}`, {
      redirect: 'manual',
      headers: { accept: 'text/html' },
    });
    expect(answer.status).toBe(303);
    expect(answer.headers.get('location')).toMatch(/^\/signin\?next=/);
  });
});

describe.each<[path: string, nurse: number, analyst: number, manager: number, engineer: number]>([
  ['/desk/rejected/search', 403, 303, 303, 303],
  ['/desk/rejected/csv', 403, 200, 200, 403],
  ['/desk/rejected/again/look', 403, 200, 403, 403],
  ['/desk/rejected/again', 403, 200, 403, 403],
  ['/desk/rules/trials', 403, 400, 403, 403],
  ['/desk/rules/editions', 403, 404, 403, 403],
  ['/desk/rules/editions/99999/approve', 403, 403, 404, 403],
  ['/desk/rules/editions/99999/refuse', 403, 404, 404, 403],
  [`/desk/rules/trials/${NO_ONE}/cancel`, 403, 404, 403, 403],
  [`/desk/sources/${NO_ONE}/disable`, 403, 403, 403, 404],
  [`/desk/sources/${NO_ONE}/enable`, 403, 403, 403, 404],
  [`/desk/sources/${NO_ONE}/try`, 403, 403, 403, 404],
  [`/desk/sources/${NO_ONE}/mappings`, 403, 403, 403, 404],
  [`/desk/sources/${NO_ONE}/mappings/1/force`, 403, 403, 403, 400],
])('POST %s', (path, nurse, analyst, manager, engineer) => {
  it('is for those whose role allows it', async () => {
    const told = await Promise.all(
      (['hazel', 'ines', 'odette', 'kofi'] as const).map(
        async (login) => (await visitor(login).post(path)).status,
      ),
    );
    expect(told).toEqual([nurse, analyst, manager, engineer]);
  });

  it('comes from a page of the session', async () => {
    for (const login of ['ines', 'kofi'] as const) {
      expect((await visitor(login).post(path, { csrf: 'made up' })).status).toBe(403);
    }
  });
});
