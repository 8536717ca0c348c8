/** Where a patient stays, and what a move or a discharge means for the devices that are the patient's. */
import type { Pool, PoolClient } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import { claimEncounters, readKnownEncounters } from './encounter-claims.js';
import { takeLocks } from './locks.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { timeText } from './sql-values.js';
import { inTransaction } from './transaction.js';

/** How a message changes where a patient is. */
export type StayChange =
  | 'begins'
  | 'moves'
  | 'ends'
  /** The last stay never was. */
  | 'never-began'
  /** The last move never was: the one before goes on. */
  | 'never-moved'
  /** The last stay has not ended. */
  | 'never-ended';

export interface StayNews {
  readonly patient: Identifier;
  readonly change: StayChange;
  readonly atMs: number;
  readonly encounter: Identifier | null;
  readonly location: string | null;
  readonly submissionId: string;
}

export type StayOutcome =
  | { readonly kind: 'done'; readonly devicesEnded: number }
  | { readonly kind: 'patient-unknown' }
  /** The visit is another patient's. */
  | { readonly kind: 'visit-of-another' };

/**
 * Takes the news in. A discharge ends whose all devices were, a transfer that of those which are not worn;
 * what is taken back gives no device back: whoever is with the patient associates it again.
 */
export async function changeStay(pool: Pool, names: Names, news: StayNews): Promise<StayOutcome> {
  await names.relearnPatients([news.patient]);
  if (news.location !== null) await names.learnPlaces([news.location]);
  const { patientKey } = names.patient(news.patient);
  return inTransaction(pool, async (client) => {
    const encounters = news.encounter === null ? [] : [nameOf(news.encounter)];
    await takeLocks(client, { patientKeys: [patientKey], encounters });
    if (!(await isRegistered(client, patientKey))) return { kind: 'patient-unknown' };
    const encounterKey = await claimVisit(client, names, news, patientKey);
    if (encounterKey === 'of-another') return { kind: 'visit-of-another' };
    await writeStay(client, news, patientKey, encounterKey, names.place(news.location));
    const devicesEnded = await endDevices(client, patientKey, news);
    return { kind: 'done', devicesEnded };
  });
}

async function isRegistered(client: PoolClient, patientKey: number): Promise<boolean> {
  const { rows } = await client.query(
    `select from patients p join patient_versions v on v.patient_key = p.patient_key
      where p.patient_key = $1 and v.superseded is null and p.merged_into is null`,
    [patientKey],
  );
  return rows.length > 0;
}

async function claimVisit(
  client: PoolClient,
  names: Names,
  { encounter }: StayNews,
  patientKey: number,
): Promise<number | null | 'of-another'> {
  if (encounter === null) return null;
  const known = await readKnownEncounters(client, names, [{ encounter, patientKey }]);
  await claimEncounters(client, known, [{ encounter, patientKey, identified: true, records: [] }]);
  const found = known.get(nameOf(encounter));
  return found?.patientKey === patientKey ? found.encounterKey : 'of-another';
}

async function writeStay(
  client: PoolClient,
  news: StayNews,
  patientKey: number,
  encounterKey: number | null,
  placeKey: number | null,
): Promise<void> {
  const at = timeText(news.atMs);
  switch (news.change) {
    case 'begins':
    case 'moves':
      await endOpenStay(client, patientKey, at);
      await client.query(
        `insert into stays (patient_key, from_at, encounter_key, place_key, submission_id)
         values ($1, $2, $3, $4, $5)
         on conflict (patient_key, from_at) do update
            set encounter_key = excluded.encounter_key, place_key = excluded.place_key,
                to_at = null, voided = false, submission_id = excluded.submission_id`,
        [patientKey, at, encounterKey, placeKey, news.submissionId],
      );
      return;
    case 'ends':
      await endOpenStay(client, patientKey, at);
      return;
    case 'never-began':
      await voidLastStay(client, patientKey);
      return;
    case 'never-moved':
      await voidLastStay(client, patientKey);
      await reopenLastStay(client, patientKey);
      return;
    case 'never-ended':
      await reopenLastStay(client, patientKey);
      return;
  }
}

/** News that come late end nothing that began after them. */
async function endOpenStay(client: PoolClient, patientKey: number, at: string): Promise<void> {
  await client.query(
    `update stays set to_at = $2
      where patient_key = $1 and to_at is null and not voided and from_at < $2::timestamptz`,
    [patientKey, at],
  );
}

const LAST_STAY = `(select from_at from stays where patient_key = $1 and not voided
                     order by from_at desc limit 1)`;

async function voidLastStay(client: PoolClient, patientKey: number): Promise<void> {
  await client.query(
    `update stays set voided = true where patient_key = $1 and from_at = ${LAST_STAY}`,
    [patientKey],
  );
}

async function reopenLastStay(client: PoolClient, patientKey: number): Promise<void> {
  await client.query(
    `update stays set to_at = null where patient_key = $1 and from_at = ${LAST_STAY}`,
    [patientKey],
  );
}

const ENDS_BY: Readonly<Partial<Record<StayChange, 'discharge' | 'transfer'>>> = {
  ends: 'discharge',
  'never-began': 'discharge',
  moves: 'transfer',
};

/** Ends at the time of the news whose the devices are; one that began later stays. */
async function endDevices(
  client: PoolClient,
  patientKey: number,
  { change, atMs, submissionId }: StayNews,
): Promise<number> {
  const endedBy = ENDS_BY[change];
  if (endedBy === undefined) return 0;
  const { rows: open } = await client.query<{ device_key: number }>(
    `select a.device_key from associations a
       left join device_versions v on v.device_key = a.device_key and v.superseded is null
      where a.patient_key = $1 and a.to_at is null and a.from_at <= $2
        and ($3 = 'discharge' or not coalesce(v.worn, false))`,
    [patientKey, timeText(atMs), endedBy],
  );
  const deviceKeys = open.map((row) => row.device_key);
  if (deviceKeys.length === 0) return 0;
  await takeLocks(client, { deviceKeys });
  const { rows: ended } = await client.query<{ association_id: string; device_id: string }>(
    `update associations a set to_at = $3, ended_by = $4
       from devices d
      where d.device_key = a.device_key and a.patient_key = $1 and a.device_key = any($2)
        and a.to_at is null and a.from_at <= $3
      returning a.association_id, d.device_id`,
    [patientKey, deviceKeys, timeText(atMs), endedBy],
  );
  await insertAudit(
    client,
    ended.map((one) => ({
      ...{ clientKey: null, patientKey },
      action: 'device-disassociate',
      outcome: 200,
      entity: `devices/${one.device_id}/associations/${one.association_id}`,
      detail: { submission: submissionId },
    })),
  );
  return ended.length;
}
