/**
 * The dictionaries: identifiers that readings point to by a small key. Their rows are never changed,
 * so a key once seen is remembered in the process.
 */
import type { Pool } from 'pg';
import { v7 as uuidv7 } from 'uuid';
import type { Identifier } from '../vitals/shapes.js';
import { lockPatientRegister } from './locks.js';
import { inTransaction } from './transaction.js';

/** Names remembered a table; beyond it the memory is emptied and fills again from the database. */
const REMEMBERED = 100_000;

/** Which patient an identifier leads to. */
export interface PatientName {
  readonly identifierKey: number;
  readonly patientKey: number;
}

interface DictionaryRow {
  system: string;
  value: string;
  key: number;
}

/** The text by which an identifier is remembered and locked. */
export function nameOf(identifier: Identifier): string {
  return `${identifier.system}|${identifier.value}`;
}

function remember<T>(memory: Map<string, T>, name: string, key: T): void {
  if (memory.size >= REMEMBERED) memory.clear();
  memory.set(name, key);
}

function missing<T>(memory: Map<string, T>, wanted: readonly Identifier[]): Identifier[] {
  const found = new Map<string, Identifier>();
  for (const identifier of wanted) {
    const name = nameOf(identifier);
    if (!memory.has(name)) found.set(name, identifier);
  }
  // Sorted, so that two processes that add the same names never wait for each other crosswise.
  return [...found.entries()].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, value]) => value);
}

/** Keys of devices, people, places and patient identifiers, adding those not seen before. */
export class Names {
  readonly #devices = new Map<string, number>();
  readonly #people = new Map<string, number>();
  readonly #places = new Map<string, number>();
  readonly #patients = new Map<string, PatientName>();
  readonly #pool: Pool;

  constructor(pool: Pool) {
    this.#pool = pool;
  }

  async learnDevices(wanted: readonly Identifier[]): Promise<void> {
    await this.#learn(this.#devices, wanted, 'devices', 'device');
  }

  async learnPeople(wanted: readonly Identifier[]): Promise<void> {
    await this.#learn(this.#people, wanted, 'people', 'person');
  }

  async learnPlaces(paths: readonly string[]): Promise<void> {
    const unknown = [...new Set(paths)].filter((path) => !this.#places.has(path)).sort();
    if (unknown.length === 0) return;
    await this.#pool.query(
      'insert into places (path) select unnest($1::text[]) on conflict do nothing',
      [unknown],
    );
    const { rows } = await this.#pool.query<{ path: string; place_key: number }>(
      'select path, place_key from places where path = any($1)',
      [unknown],
    );
    for (const row of rows) remember(this.#places, row.path, row.place_key);
  }

  /** Patients whose identifier nobody has registered get a row too: their sets wait under it. */
  async learnPatients(wanted: readonly Identifier[]): Promise<void> {
    const unknown = missing(this.#patients, wanted);
    if (unknown.length === 0) return;
    const systems = unknown.map((identifier) => identifier.system);
    const values = unknown.map((identifier) => identifier.value);
    await inTransaction(this.#pool, async (client) => {
      await lockPatientRegister(client);
      await client.query(
        `with fresh as (
           select n.system, n.value, n.id from unnest($1::text[], $2::text[], $3::uuid[]) as n(system, value, id)
            where not exists (select from patient_identifiers i where i.system = n.system and i.value = n.value)),
         born as (insert into patients (patient_id) select id from fresh returning patient_key, patient_id)
         insert into patient_identifiers (system, value, patient_key)
         select f.system, f.value, b.patient_key from fresh f join born b on b.patient_id = f.id`,
        [systems, values, unknown.map(() => uuidv7())],
      );
    });
    const { rows } = await this.#pool.query<{
      system: string;
      value: string;
      identifier_key: number;
      patient_key: number;
    }>(
      `select i.system, i.value, i.identifier_key, i.patient_key
         from patient_identifiers i join unnest($1::text[], $2::text[]) as n(system, value) using (system, value)`,
      [systems, values],
    );
    for (const row of rows) {
      remember(this.#patients, nameOf(row), {
        identifierKey: row.identifier_key,
        patientKey: row.patient_key,
      });
    }
  }

  device(identifier: Identifier | null): number | null {
    return identifier === null ? null : (this.#devices.get(nameOf(identifier)) ?? null);
  }

  person(identifier: Identifier | null): number | null {
    return identifier === null ? null : (this.#people.get(nameOf(identifier)) ?? null);
  }

  place(path: string | null): number | null {
    return path === null ? null : (this.#places.get(path) ?? null);
  }

  /** @throws Error when the identifier was not learnt before. */
  patient(identifier: Identifier): PatientName {
    const found = this.#patients.get(nameOf(identifier));
    if (found === undefined) throw new Error('a patient identifier was used before it was learnt');
    return found;
  }

  async #learn(
    memory: Map<string, number>,
    wanted: readonly Identifier[],
    table: 'devices' | 'people',
    noun: 'device' | 'person',
  ): Promise<void> {
    const unknown = missing(memory, wanted);
    if (unknown.length === 0) return;
    const systems = unknown.map((identifier) => identifier.system);
    const values = unknown.map((identifier) => identifier.value);
    await this.#pool.query(
      `insert into ${table} (${noun}_id, system, value)
       select * from unnest($1::uuid[], $2::text[], $3::text[]) on conflict do nothing`,
      [unknown.map(() => uuidv7()), systems, values],
    );
    const { rows } = await this.#pool.query<DictionaryRow>(
      `select t.system, t.value, t.${noun}_key as key
         from ${table} t join unnest($1::text[], $2::text[]) as n(system, value) using (system, value)`,
      [systems, values],
    );
    for (const row of rows) remember(memory, nameOf(row), row.key);
  }
}
