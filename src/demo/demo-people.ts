/** The people of the demo ward who sign in with the pages, and the file in which their passwords lie. */
import { randomBytes } from 'node:crypto';
import { readFile, rename, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { z } from 'zod';
import { hashPassword, isPassword } from '../serve/signin/password.js';
import { findLocalPerson, putLocalPerson } from '../store/local-people.js';
import { Names } from '../store/names.js';
import type { Pool } from '../store/pool.js';
import type { Identifier } from '../vitals/shapes.js';

interface DemoPerson {
  readonly role: string;
  readonly name: string;
  readonly login: string;
  readonly person: Identifier;
  readonly scopes: string;
}

const staff = (value: string): Identifier => ({ system: 'urn:example:staff', value });

const NURSE = 'bedside';
const ANALYST = 'review.read review.write export.read rules.read rules.write';

/** Both nurses took sets of the demo's week under their numbers. */
const PEOPLE: readonly DemoPerson[] = [
  { role: 'nurse', name: 'Hazel Brook', login: 'hazel', person: staff('N-311'), scopes: NURSE },
  { role: 'nurse', name: 'Tobias Reed', login: 'tobias', person: staff('N-318'), scopes: NURSE },
  { role: 'analyst', name: 'Ines Calder', login: 'ines', person: staff('A-207'), scopes: ANALYST },
  { role: 'analyst', name: 'Rafe Winslow', login: 'rafe', person: staff('A-212'), scopes: ANALYST },
  {
    role: 'manager',
    name: 'Odette Marlow',
    login: 'odette',
    person: staff('M-104'),
    scopes: 'review.read people.read export.read rules.read rules.approve',
  },
  {
    role: 'integration engineer',
    name: 'Kofi Lindqvist',
    login: 'kofi',
    person: staff('E-031'),
    scopes: 'review.read rules.read admin metrics.read',
  },
];

const FILE = z.array(
  z.object({
    role: z.string(),
    name: z.string(),
    login: z.string(),
    password: z.string(),
    scopes: z.string(),
  }),
);
export type DemoPeople = z.output<typeof FILE>;

function peopleFileIn(dataDir: string): string {
  return join(dataDir, 'demo-people.json');
}

async function readPeople(dataDir: string): Promise<DemoPeople | null> {
  try {
    return FILE.parse(JSON.parse(await readFile(peopleFileIn(dataDir), 'utf8')));
  } catch {
    return null;
  }
}

/** Whether the file tells the passwords of everybody as they are in this very database. */
async function areCurrent(pool: Pool, people: DemoPeople | null): Promise<boolean> {
  const told = new Map(people?.map((one) => [one.login, one]));
  const isTold = async ({ login, scopes }: DemoPerson): Promise<boolean> => {
    const { password } = told.get(login) ?? {};
    const known = await findLocalPerson(pool, login);
    if (password === undefined || known?.scopes.join(' ') !== scopes) return false;
    return isPassword(password, known);
  };
  return (await Promise.all(PEOPLE.map(isTold))).every(Boolean);
}

/** Registers the demo's people in the database, each with a new password. */
export async function registerDemoPeople(pool: Pool): Promise<DemoPeople> {
  const names = new Names(pool);
  await names.learnPeople(PEOPLE.map(({ person }) => person));
  const registered: DemoPeople = [];
  for (const { role, name, login, person, scopes } of PEOPLE) {
    const personKey = names.person(person);
    if (personKey === null) throw new Error('a demo person is gone as soon as it was learnt');
    const password = randomBytes(9).toString('base64url');
    const hash = await hashPassword(password);
    await putLocalPerson(pool, { login, personKey, name, scopes: scopes.split(' '), ...hash });
    registered.push({ role, name, login, password, scopes });
  }
  return registered;
}

/** Sees to it that the folder has a file with the passwords of the demo's people; returns its path. */
export async function prepareDemoPeople(pool: Pool, dataDir: string): Promise<string> {
  const file = peopleFileIn(dataDir);
  if (await areCurrent(pool, await readPeople(dataDir))) return file;
  const rows = (await registerDemoPeople(pool)).map((row) => `  ${JSON.stringify(row)}`);
  await writeFile(`${file}.new`, `[\n${rows.join(',\n')}\n]\n`, { mode: 0o600 });
  await rename(`${file}.new`, file);
  return file;
}
