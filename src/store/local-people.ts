/** People who sign in by a password that is kept here: those of the demo ward. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';

export interface LocalPerson {
  readonly login: string;
  readonly person: Identifier;
  readonly personKey: number;
  readonly name: string;
  readonly scopes: readonly string[];
  readonly salt: Buffer;
  readonly passwordScrypt: Buffer;
}

interface LocalPersonRow {
  login: string;
  system: string;
  value: string;
  person_key: number;
  name: string;
  scopes: string[];
  salt: Buffer;
  password_scrypt: Buffer;
}

/** Registers somebody, or puts this in the place of what was registered under the login. */
export async function putLocalPerson(
  pool: Pool,
  person: Omit<LocalPerson, 'person'>,
): Promise<void> {
  const { login, personKey, name, scopes, salt, passwordScrypt } = person;
  await pool.query(
    `insert into local_people (login, person_key, name, scopes, salt, password_scrypt)
     values ($1, $2, $3, $4, $5, $6)
     on conflict (login) do update
        set person_key = excluded.person_key, name = excluded.name, scopes = excluded.scopes,
            salt = excluded.salt, password_scrypt = excluded.password_scrypt`,
    [login, personKey, name, scopes, salt, passwordScrypt],
  );
}

/** Null: nobody is registered under this login. */
export async function findLocalPerson(pool: Pool, login: string): Promise<LocalPerson | null> {
  const { rows } = await pool.query<LocalPersonRow>({
    name: 'find-local-person',
    text: `select l.login, p.system, p.value, l.person_key, l.name, l.scopes, l.salt, l.password_scrypt
             from local_people l join people p using (person_key) where l.login = $1`,
    values: [login],
  });
  const [row] = rows;
  if (row === undefined) return null;
  return {
    login: row.login,
    person: { system: row.system, value: row.value },
    personKey: row.person_key,
    name: row.name,
    scopes: row.scopes,
    salt: row.salt,
    passwordScrypt: row.password_scrypt,
  };
}
