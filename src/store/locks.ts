import type { ClientBase } from 'pg';

/**
 * What a transaction may lock by name, in the order in which it must lock: always all patients, then
 * set keys, then encounters, then devices, then identifiers of readings, and the publication clock last.
 * One order everywhere means no deadlock.
 */
export interface LockNeeds {
  readonly patientKeys?: readonly number[];
  /** `source/setId`: two processes with the same set must not both take its key. */
  readonly setKeys?: readonly string[];
  /** `system|value` of encounters seen for the first time. */
  readonly encounters?: readonly string[];
  /** Devices whose registration or association changes: a device is one patient's at a time. */
  readonly deviceKeys?: readonly number[];
  /** `system|value` under which a reading is to be kept only if none is yet. */
  readonly readingNames?: readonly string[];
}

/**
 * Takes the named locks until the transaction ends, in sorted order. They are advisory and belong to
 * this site's schema, so that many sites share one database without waiting for each other.
 */
export async function takeLocks(client: ClientBase, needs: LockNeeds): Promise<void> {
  const patients = (needs.patientKeys ?? []).map(String);
  const names = [
    ...patients.map((key) => `1 ${key}`),
    ...(needs.setKeys ?? []).map((key) => `2 ${key}`),
    ...(needs.encounters ?? []).map((key) => `3 ${key}`),
    ...(needs.deviceKeys ?? []).map((key) => `4 ${key}`),
    ...(needs.readingNames ?? []).map((name) => `5 ${name}`),
  ];
  if (names.length === 0) return;
  await client.query({
    name: 'take-locks',
    text: `select pg_advisory_xact_lock(hashtext(current_schema()), h)
             from (select distinct left(n, 1) as class, hashtext(n) as h
                     from unnest($1::text[]) as n order by class, h) as sorted`,
    values: [names],
  });
}

/**
 * Takes the lock under which patients and their identifiers are added, until the transaction ends.
 * Before all other locks: whoever holds one of those never waits for this one.
 */
export async function lockPatientRegister(client: ClientBase): Promise<void> {
  await client.query(
    "select pg_advisory_xact_lock(hashtext(current_schema()), hashtext('patients'))",
  );
}

/** Takes the lock under which exports are added and counted, until the transaction ends; alone, with no other. */
export async function lockExports(client: ClientBase): Promise<void> {
  await client.query(
    "select pg_advisory_xact_lock(hashtext(current_schema()), hashtext('exports'))",
  );
}

/** The same for subscriptions. */
export async function lockSubscriptions(client: ClientBase): Promise<void> {
  await client.query(
    "select pg_advisory_xact_lock(hashtext(current_schema()), hashtext('subscriptions'))",
  );
}

/** Takes the locks of these patients until the transaction ends. */
export async function lockPatients(
  client: ClientBase,
  patientKeys: readonly number[],
): Promise<void> {
  await takeLocks(client, { patientKeys });
}

/**
 * Takes the lock under which seals are added to the audit trail, until the transaction ends. A transaction
 * that takes it has no other lock but that of the writer whose segment it seals.
 */
export async function lockSeals(client: ClientBase): Promise<void> {
  await client.query(
    "select pg_advisory_xact_lock(hashtext(current_schema()), hashtext('audit seals'))",
  );
}
