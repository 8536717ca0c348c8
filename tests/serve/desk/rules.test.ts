import { hashPassword } from '../../../src/serve/signin/password.js';
import { putLocalPerson } from '../../../src/store/local-people.js';
import { Names } from '../../../src/store/names.js';
import { fillDeskWard, openDeskWard } from '../../setup/desk-ward.js';
import type { DeskWard } from '../../setup/desk-ward.js';
import { visitAs } from '../../setup/people.js';
import type { DemoLogin, Visitor } from '../../setup/people.js';

const SETTING = 'blood-pressure-methods-disagree.systolic';
const CHANGE = {
  ...{ setting: SETTING, at: '15', document: 'Larkfield, ward rules', section: '2', year: '2026' },
  ...{ days: '3', name: 'Larkfield' },
};

let ward: DeskWard;
let both: Visitor;
let manager: Visitor;

/** Somebody whose roles let them propose and approve. */
async function signInWithBothRoles(): Promise<Visitor> {
  const { pool } = ward.gateway.database;
  const names = new Names(pool);
  const person = { system: 'urn:example:staff', value: 'B-1' };
  await names.learnPeople([person]);
  const scopes = ['review.read', 'rules.read', 'rules.write', 'rules.approve'];
  await putLocalPerson(pool, {
    ...{ login: 'maud', name: 'Maud Ferrier', personKey: names.person(person) ?? 0, scopes },
    ...(await hashPassword('a password of eighteen')),
  });
  return visitAs(ward.gateway, () => 'a password of eighteen', 'maud' as DemoLogin);
}

beforeAll(async () => {
  ward = await openDeskWard();
  await fillDeskWard(ward);
  both = await signInWithBothRoles();
  manager = await visitAs(ward.gateway, ward.passwords, 'odette');
});
afterAll(() => ward.gateway.close());

/** Tries the change, waits until it is done, proposes it; the path of the edition. */
async function propose(): Promise<string> {
  const begun = await both.post('/desk/rules/trials', CHANGE);
  const trial = begun.headers.get('location') ?? '';
  while (!(await (await both.get(trial)).text()).includes('would have got another verdict')) {
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  const fields = { trial: trial.split('/').at(-1) ?? '', reason: 'Agreed by the ward' };
  const proposed = await both.post('/desk/rules/editions', fields);
  expect(proposed.status).toBe(303);
  return proposed.headers.get('location') ?? '';
}

describe('an edition at the desk', () => {
  it('is put into force by another person than proposed it, once', async () => {
    const edition = await propose();
    const page = await (await both.get(edition)).text();
    expect(page).toContain('another person must put it into force');
    expect(page).not.toContain(`action="${edition}/approve"`);

    const own = await both.post(`${edition}/approve`, { reason: 'I say so' });
    expect(own.status).toBe(403);
    expect(await own.text()).toContain('You proposed this edition: another person');

    const past = await manager.post(`${edition}/approve`, {
      reason: 'Yes',
      from: '2020-01-01T00:00',
    });
    expect(past.status).toBe(400);
    expect(await past.text()).toContain('lies in the past');

    expect((await manager.post(`${edition}/approve`, { reason: 'Agreed' })).status).toBe(303);
    const again = await manager.post(`${edition}/approve`, { reason: 'Once more' });
    expect(again.status).toBe(409);
    expect(await again.text()).toContain('has been decided about already');
  });

  it('is closed for good by whoever may', async () => {
    const edition = await propose();
    expect((await both.post(`${edition}/refuse`, { reason: '' })).status).toBe(400);
    expect((await both.post(`${edition}/refuse`, { reason: 'A mistake' })).status).toBe(303);
    const late = await manager.post(`${edition}/approve`, { reason: 'All the same' });
    expect(late.status).toBe(409);
  });
});

describe('a change to be tried', () => {
  it.each([
    [{ at: 'many' }, 'New number</strong> must be a number'],
    [{ days: '0' }, 'Days</strong> must be a whole number from 1 to 90'],
    [{ days: '91' }, 'Days</strong> must be a whole number from 1 to 90'],
    [{ name: ' ' }, 'Name of the site</strong>'],
    [{ setting: 'no.such.setting' }, 'no.such.setting'],
    [{ at: '400' }, SETTING],
    [{ off: 'value-doubtful' }, 'value-doubtful'],
    [{ name: '<b>Larkfield</b>', at: 'x' }, '&lt;b>Larkfield&lt;/b>'],
  ])('with %j is refused whole, and told why', async (wrong, says) => {
    const answer = await both.post('/desk/rules/trials', { ...CHANGE, ...wrong });
    expect(answer.status).toBe(400);
    expect(await answer.text()).toContain(says);
  });

  it('is added to what was tried before', async () => {
    const first = (await both.post('/desk/rules/trials', CHANGE)).headers.get('location') ?? '';
    const base = first.split('/').at(-1) ?? '';
    const second = { ...CHANGE, setting: '', derived: 'on', base };
    let begun = await both.post('/desk/rules/trials', second);
    while (begun.status === 409) {
      await new Promise((resolve) => setTimeout(resolve, 50));
      begun = await both.post('/desk/rules/trials', second);
    }
    const page = await (await both.get(begun.headers.get('location') ?? '')).text();
    // Whether it differs from what is in force depends on whether the other edition judges by now.
    expect(page).toMatch(/systolic<\/code><\/th><td>(<strong>)?15 mm\[Hg\]/);
    expect(page).toContain('calculated (differs)');
  });
});
