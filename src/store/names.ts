/**
 * The dictionaries: identifiers that readings point to by a small key. What they say is never changed, so
 * a key once seen is remembered in the process. Whose a patient's identifier or a visit is changes when
 * patients are merged: who files under it asks again under the patient's lock.
 */
import type { Pool } from 'pg';
import { uuid7 } from './uuid7.js';
import type { Identifier } from '../vitals/shapes.js';
import { lockPatientRegister } from './locks.js';
import { Memory } from './memory.js';
import { inTransaction } from './transaction.js';

/** Names in one generation of a memory: a large house's patients of some weeks. */
const REMEMBERED = 50_000;

/** Which patient an identifier leads to. */
export interface PatientName {
  readonly identifierKey: number;
  readonly patientKey: number;
}

/** A visit and whose it is. */
export interface EncounterName {
  readonly encounterKey: number;
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

function missing<T>(memory: Memory<T>, wanted: readonly Identifier[]): Identifier[] {
  const found = new Map<string, Identifier>();
  for (const identifier of wanted) {
    const name = nameOf(identifier);
    if (memory.get(name) === undefined) found.set(name, identifier);
  }
  // Sorted, so that two processes that add the same names never wait for each other crosswise.
  return [...found.entries()].sort(([a], [b]) => (a < b ? -1 : 1)).map(([, value]) => value);
}

/** Systems and values as two parameters of a query. */
function columnsOf(identifiers: readonly Identifier[]): [string[], string[]] {
  return [identifiers.map(({ system }) => system), identifiers.map(({ value }) => value)];
}

/** Keys of devices, people, places and patient identifiers, adding those not seen before. */
export class Names {
  readonly #devices = new Memory<number>(REMEMBERED);
  readonly #people = new Memory<number>(REMEMBERED);
  readonly #places = new Memory<number>(REMEMBERED);
  readonly #patients = new Memory<PatientName>(REMEMBERED);
  readonly #encounters = new Memory<EncounterName>(REMEMBERED);
  readonly #pool: Pool;

  constructor(pool: Pool) {
    this.#pool = pool;
  }

  async learnDevices(wanted: readonly Identifier[]): Promise<void> {
    await this.#learn(this.#devices, wanted, 'devices', 'device');
  }

  /** As far as they are known: what is only looked at is not learnt. */
  async recallDevices(wanted: readonly Identifier[]): Promise<void> {
    await this.#find(this.#devices, missing(this.#devices, wanted), 'devices', 'device');
  }

  async learnPeople(wanted: readonly Identifier[]): Promise<void> {
    await this.#learn(this.#people, wanted, 'people', 'person');
  }

  async learnPlaces(paths: readonly string[]): Promise<void> {
    const unknown = [...new Set(paths)]
      .filter((path) => this.#places.get(path) === undefined)
      .sort();
    if (unknown.length === 0) return;
    await this.#pool.query(
      'insert into places (path) select unnest($1::text[]) on conflict do nothing',
      [unknown],
    );
    const { rows } = await this.#pool.query<{ path: string; place_key: number }>(
      'select path, place_key from places where path = any($1)',
      [unknown],
    );
    for (const row of rows) this.#places.set(row.path, row.place_key);
  }

  /** Patients whose identifier nobody has registered get a row too: their sets wait under it. */
  async learnPatients(wanted: readonly Identifier[]): Promise<void> {
    await this.#findPatients(missing(this.#patients, wanted));
    const unknown = missing(this.#patients, wanted);
    if (unknown.length === 0) return;
    await inTransaction(this.#pool, async (client) => {
      await lockPatientRegister(client);
      await client.query(
        `with fresh as (
           select n.system, n.value, n.id from unnest($1::text[], $2::text[], $3::uuid[]) as n(system, value, id)
            where not exists (select from patient_identifiers i where i.system = n.system and i.value = n.value)),
         born as (insert into patients (patient_id) select id from fresh returning patient_key, patient_id)
         insert into patient_identifiers (system, value, patient_key)
         select f.system, f.value, b.patient_key from fresh f join born b on b.patient_id = f.id`,
        [...columnsOf(unknown), unknown.map(() => uuid7())],
      );
    });
    await this.#findPatients(unknown);
  }

  /** Asks anew whose these identifiers are: a merge may have changed it. */
  async relearnPatients(identifiers: readonly Identifier[]): Promise<void> {
    for (const identifier of identifiers) this.#patients.delete(nameOf(identifier));
    await this.learnPatients(identifiers);
  }

  /** A visit that this process has seen committed; another may exist all the same. */
  encounter(name: string): EncounterName | undefined {
    return this.#encounters.get(name);
  }

  rememberEncounter(name: string, encounter: EncounterName): void {
    this.#encounters.set(name, encounter);
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

  async #findPatients(wanted: readonly Identifier[]): Promise<void> {
    if (wanted.length === 0) return;
    const { rows } = await this.#pool.query<{
      system: string;
      value: string;
      identifier_key: number;
      patient_key: number;
    }>(
      `select i.system, i.value, i.identifier_key, i.patient_key
         from patient_identifiers i join unnest($1::text[], $2::text[]) as n(system, value) using (system, value)`,
      columnsOf(wanted),
    );
    for (const row of rows) {
      this.#patients.set(nameOf(row), {
        identifierKey: row.identifier_key,
        patientKey: row.patient_key,
      });
    }
  }

  async #learn(
    memory: Memory<number>,
    wanted: readonly Identifier[],
    table: 'devices' | 'people',
    noun: 'device' | 'person',
  ): Promise<void> {
    await this.#find(memory, missing(memory, wanted), table, noun);
    const unknown = missing(memory, wanted);
    if (unknown.length === 0) return;
    await this.#pool.query(
      `insert into ${table} (${noun}_id, system, value)
       select * from unnest($1::uuid[], $2::text[], $3::text[]) on conflict do nothing`,
      [unknown.map(() => uuid7()), ...columnsOf(unknown)],
    );
    await this.#find(memory, unknown, table, noun);
  }

  async #find(
    memory: Memory<number>,
    wanted: readonly Identifier[],
    table: 'devices' | 'people',
    noun: 'device' | 'person',
  ): Promise<void> {
    if (wanted.length === 0) return;
    const { rows } = await this.#pool.query<DictionaryRow>(
      `select t.system, t.value, t.${noun}_key as key
         from ${table} t join unnest($1::text[], $2::text[]) as n(system, value) using (system, value)`,
      columnsOf(wanted),
    );
    for (const row of rows) memory.set(nameOf(row), row.key);
  }
}
