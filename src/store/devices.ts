/** Registration of devices: version by version, so that what was known of one at a time can be told. */
import type { ClientBase, Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { EnteredUnit, Vital } from '../vitals/words.js';
import { insertAudit } from './audit.js';
import type { Actor } from './editions.js';
import { takeLocks } from './locks.js';
import type { Names } from './names.js';
import { takeStamp } from './publication-clock.js';
import { inTransaction } from './transaction.js';

/** How far a value may be off, as the maker declares. */
export interface DeclaredAccuracy {
  readonly within: number;
  readonly unit: EnteredUnit;
}

/** What is registered of a device, as somebody may change it. */
export interface DeviceSettings {
  readonly display: string | null;
  readonly type: string | null;
  /** A place by its path, the wide first: ward/bed. */
  readonly location: string | null;
  /** Null: any. */
  readonly signs: readonly Vital[] | null;
  /** Null: as its source. */
  readonly attended: boolean | null;
  /** It goes where the patient goes. */
  readonly worn: boolean;
  /** IANA zone of its own times. */
  readonly zone: string | null;
  /** How far its times may be off. */
  readonly timeAccuracyMs: number | null;
  readonly accuracy: Readonly<Partial<Record<Vital, DeclaredAccuracy>>>;
  readonly disabled: boolean;
}

export type DeviceOutcome =
  | {
      readonly outcome: 'created' | 'changed' | 'unchanged';
      readonly deviceId: string;
      readonly version: number;
    }
  /** Somebody registered it before. */
  | { readonly outcome: 'registered'; readonly deviceId: string; readonly version: number }
  /** It has another version than the one expected. */
  | { readonly outcome: 'stale'; readonly version: number }
  | { readonly outcome: 'unknown' };

interface Newest {
  version: number | null;
  settings: string | null;
}

/** Registers a device that has no registration; sets may have named it before. */
export async function registerDevice(
  pool: Pool,
  names: Names,
  by: Actor,
  identifier: Identifier,
  settings: DeviceSettings,
): Promise<DeviceOutcome> {
  await names.learnDevices([identifier]);
  if (settings.location !== null) await names.learnPlaces([settings.location]);
  const deviceKey = names.device(identifier);
  if (deviceKey === null) throw new Error('a device was not learnt');
  return inTransaction(pool, async (client) => {
    await takeLocks(client, { deviceKeys: [deviceKey] });
    const deviceId = await readId(client, deviceKey);
    const { version } = await readNewest(client, deviceKey);
    if (version !== null) return { outcome: 'registered', deviceId, version };
    await writeVersion(client, { names, by, deviceKey, deviceId, version: 1, settings });
    return { outcome: 'created', deviceId, version: 1 };
  });
}

/** Writes the next version of a registered device, unless the newest says the very same. */
export async function changeDevice(
  pool: Pool,
  names: Names,
  by: Actor,
  deviceId: string,
  expectedVersion: number,
  settings: DeviceSettings,
): Promise<DeviceOutcome> {
  const { rows } = await pool.query<{ device_key: number }>(
    'select device_key from devices where device_id = $1',
    [deviceId],
  );
  const deviceKey = rows[0]?.device_key;
  if (deviceKey === undefined) return { outcome: 'unknown' };
  if (settings.location !== null) await names.learnPlaces([settings.location]);
  return inTransaction(pool, async (client) => {
    await takeLocks(client, { deviceKeys: [deviceKey] });
    const newest = await readNewest(client, deviceKey);
    if (newest.version === null) return { outcome: 'unknown' };
    if (newest.version !== expectedVersion) return { outcome: 'stale', version: newest.version };
    const version = newest.version + 1;
    if (newest.settings === (await asKept(client, names, settings))) {
      return { outcome: 'unchanged', deviceId, version: newest.version };
    }
    await writeVersion(client, { names, by, deviceKey, deviceId, version, settings });
    return { outcome: 'changed', deviceId, version };
  });
}

async function readId(client: ClientBase, deviceKey: number): Promise<string> {
  const { rows } = await client.query<{ device_id: string }>(
    'select device_id from devices where device_key = $1',
    [deviceKey],
  );
  if (rows[0] === undefined) throw new Error('a device has vanished');
  return rows[0].device_id;
}

/** All settings as one text, the same for a row and for what would be written. */
const SETTINGS_TEXT = `row(display, type, place_key, signs, attended, worn, zone, time_accuracy_ms, accuracy, disabled)::text`;

async function readNewest(client: ClientBase, deviceKey: number): Promise<Newest> {
  const { rows } = await client.query<Newest>(
    `select version, ${SETTINGS_TEXT} as settings from device_versions
      where device_key = $1 and superseded is null`,
    [deviceKey],
  );
  return rows[0] ?? { version: null, settings: null };
}

async function asKept(
  client: ClientBase,
  names: Names,
  settings: DeviceSettings,
): Promise<string | null> {
  const { rows } = await client.query<{ settings: string }>(
    `select ${SETTINGS_TEXT} as settings
       from (select $1::text as display, $2::text as type, $3::integer as place_key, $4::text[] as signs,
                    $5::boolean as attended, $6::boolean as worn, $7::text as zone,
                    $8::integer as time_accuracy_ms, $9::jsonb as accuracy, $10::boolean as disabled) as s`,
    valuesOf(names, settings),
  );
  return rows[0]?.settings ?? null;
}

function valuesOf(names: Names, settings: DeviceSettings): unknown[] {
  return [
    settings.display,
    settings.type,
    names.place(settings.location),
    settings.signs,
    settings.attended,
    settings.worn,
    settings.zone,
    settings.timeAccuracyMs,
    JSON.stringify(settings.accuracy),
    settings.disabled,
  ];
}

interface NextVersion {
  readonly names: Names;
  readonly by: Actor;
  readonly deviceKey: number;
  readonly deviceId: string;
  readonly version: number;
  readonly settings: DeviceSettings;
}

async function writeVersion(
  client: ClientBase,
  { names, by, deviceKey, deviceId, version, settings }: NextVersion,
): Promise<void> {
  await insertAudit(client, [
    {
      ...by,
      action: version === 1 ? 'device-add' : 'device-change',
      outcome: version === 1 ? 201 : 200,
      entity: `devices/${deviceId}`,
      detail: { version },
    },
  ]);
  const stamp = new Date(await takeStamp(client)).toISOString();
  await client.query(
    'update device_versions set superseded = $2 where device_key = $1 and superseded is null',
    [deviceKey, stamp],
  );
  await client.query(
    `insert into device_versions (display, type, place_key, signs, attended, worn, zone,
                                  time_accuracy_ms, accuracy, disabled,
                                  device_key, version, stamp, client_key)
     values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14)`,
    [...valuesOf(names, settings), deviceKey, version, stamp, by.clientKey],
  );
}
