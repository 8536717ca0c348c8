import { addClient } from '../../src/store/clients.js';
import { approveEdition, findEdition, proposeEdition } from '../../src/store/editions.js';
import type { Actor } from '../../src/store/editions.js';
import { Names } from '../../src/store/names.js';
import { EDITION } from '../../src/vitals/edition.js';
import { openTestDatabase } from '../setup/database.js';
import type { TestDatabase } from '../setup/database.js';

let database: TestDatabase;
let names: Names;

beforeAll(async () => {
  database = await openTestDatabase();
  names = new Names(database.pool);
});
afterAll(() => database.close());

/** A client of its own, or the one of that name. */
async function actor(client: string, person: string | null): Promise<Actor> {
  const { pool } = database;
  const source = { name: 'office', attended: true };
  await addClient(pool, { name: client, scopes: ['rules.write'], source });
  const { rows } = await pool.query<{ client_key: number }>(
    'select client_key from clients where name = $1 order by client_key limit 1',
    [client],
  );
  const identifier = person === null ? null : { system: 'urn:example:staff', value: person };
  if (identifier !== null) await names.learnPeople([identifier]);
  return { clientKey: rows[0]?.client_key ?? 0, personKey: names.person(identifier) };
}

describe('whoever proposed an edition', () => {
  it.each<
    [
      client: string,
      person: string | null,
      otherClient: string,
      other: string | null,
      outcome: string,
    ]
  >([
    ['pages', 'N-1', 'pages', 'N-1', 'own'],
    ['pages', 'N-1', 'tablet', 'N-1', 'own'],
    ['pages', 'N-1', 'pages', 'N-2', 'done'],
    ['engine', null, 'engine', null, 'own'],
    ['engine', null, 'engine', 'N-2', 'own'],
    ['engine', null, 'other engine', null, 'done'],
    ['engine', null, 'pages', 'N-1', 'done'],
  ])('%s %s; asked for by %s %s: %s', async (client, person, otherClient, other, outcome) => {
    const { pool } = database;
    const proposal = { program: EDITION, configuration: {}, reason: 'Tried.', wantedFromMs: null };
    const number = await proposeEdition(pool, await actor(client, person), proposal, Date.now());
    const approval = { reason: 'Agreed.', fromMs: null, program: EDITION };
    const by = await actor(otherClient, other);
    expect(await approveEdition(pool, by, number, approval, Date.now)).toBe(outcome);
    const found = await findEdition(pool, number);
    expect(found?.state).toBe(outcome === 'done' ? 'approved' : 'proposed');
  });
});
