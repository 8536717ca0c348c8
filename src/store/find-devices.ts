/** Registered devices by id and by what they are looked for with. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { Vital } from '../vitals/words.js';
import type { DeviceClock } from './device-clocks.js';
import type { DeviceSettings } from './devices.js';
import { SqlValues } from './sql-values.js';

/** One version of a registered device. Times in ms since the epoch. */
export interface DeviceVersion extends DeviceSettings {
  readonly deviceId: string;
  readonly identifier: Identifier;
  readonly version: number;
  /** Commit stamp. */
  readonly stampMs: number;
  /** Name of the client that registered it so. */
  readonly registeredBy: string | null;
}

/** The newest version, how its clock goes, and whose it is now by the id of that association. */
export interface RegisteredDevice extends DeviceVersion {
  readonly clock: DeviceClock | null;
  readonly associationId: string | null;
}

export interface DeviceSearch {
  readonly identifier?: Identifier | undefined;
  readonly type?: string | undefined;
  /** This place, and all within it. */
  readonly location?: string | undefined;
  /** It may bring this sign. */
  readonly vital?: Vital | undefined;
  readonly disabled?: boolean | undefined;
  /** It is somebody's now. */
  readonly associated?: boolean | undefined;
}

interface VersionRow {
  device_id: string;
  system: string;
  value: string;
  version: number;
  stamp: Date;
  registered_by: string | null;
  display: string | null;
  type: string | null;
  location: string | null;
  signs: Vital[] | null;
  attended: boolean | null;
  worn: boolean;
  zone: string | null;
  time_accuracy_ms: number | null;
  accuracy: DeviceSettings['accuracy'] | null;
  disabled: boolean;
}

interface DeviceRow extends VersionRow {
  offset_ms: number | null;
  seen_at: Date | null;
  association_id: string | null;
}

const VERSION_COLUMNS = `
  d.device_id, d.system, d.value, v.version, v.stamp, c.name as registered_by, v.display, v.type,
  p.path as location, v.signs, v.attended, v.worn, v.zone, v.time_accuracy_ms, v.accuracy, v.disabled`;
const VERSION_TABLES = `
  device_versions v
  join devices d using (device_key)
  left join clients c using (client_key)
  left join places p using (place_key)`;

const SELECT_DEVICES = `
  select ${VERSION_COLUMNS}, k.offset_ms, k.seen_at, a.association_id
    from ${VERSION_TABLES}
    left join device_clocks k on k.device_key = v.device_key
    left join associations a on a.device_key = v.device_key and a.to_at is null`;

/** A page of registered devices in the order of their ids, after the one of that id. */
export async function listDevices(
  pool: Pool,
  search: DeviceSearch,
  afterId: string | null,
  limit: number,
): Promise<RegisteredDevice[]> {
  const values = new SqlValues();
  const demands = demandsOf(search, values);
  if (afterId !== null) demands.push(`d.device_id > ${values.bind(afterId, 'uuid')}`);
  const { rows } = await pool.query<DeviceRow>(
    `${SELECT_DEVICES} where ${demands.join(' and ')}
      order by d.device_id limit ${values.bind(limit)}`,
    values.list,
  );
  return rows.map(toDevice);
}

/** Null: there is none of that id, or nobody has registered it. */
export async function findDevice(pool: Pool, deviceId: string): Promise<RegisteredDevice | null> {
  const { rows } = await pool.query<DeviceRow>(
    `${SELECT_DEVICES} where v.superseded is null and d.device_id = $1`,
    [deviceId],
  );
  return rows[0] === undefined ? null : toDevice(rows[0]);
}

/** All versions, newest first; none: nobody has registered it. */
export async function listDeviceVersions(pool: Pool, deviceId: string): Promise<DeviceVersion[]> {
  const { rows } = await pool.query<VersionRow>(
    `select ${VERSION_COLUMNS} from ${VERSION_TABLES} where d.device_id = $1 order by v.version desc`,
    [deviceId],
  );
  return rows.map(toVersion);
}

function demandsOf(search: DeviceSearch, values: SqlValues): string[] {
  const { identifier, type, location, vital, disabled, associated } = search;
  const demands = ['v.superseded is null'];
  if (identifier !== undefined) {
    demands.push(
      `d.system = ${values.bind(identifier.system)} and d.value = ${values.bind(identifier.value)}`,
    );
  }
  if (type !== undefined) demands.push(`v.type = ${values.bind(type)}`);
  if (location !== undefined) {
    const path = values.bind(location);
    demands.push(`(p.path = ${path} or starts_with(p.path, ${path} || '/'))`);
  }
  if (vital !== undefined) {
    demands.push(`(v.signs is null or ${values.bind(vital, 'text')} = any(v.signs))`);
  }
  if (disabled !== undefined) demands.push(`v.disabled = ${values.bind(disabled)}`);
  if (associated !== undefined) {
    demands.push(`a.association_id is ${associated ? 'not null' : 'null'}`);
  }
  return demands;
}

function toVersion(row: VersionRow): DeviceVersion {
  return {
    deviceId: row.device_id,
    identifier: { system: row.system, value: row.value },
    version: row.version,
    stampMs: row.stamp.getTime(),
    registeredBy: row.registered_by,
    display: row.display,
    type: row.type,
    location: row.location,
    signs: row.signs,
    attended: row.attended,
    worn: row.worn,
    zone: row.zone,
    timeAccuracyMs: row.time_accuracy_ms,
    accuracy: row.accuracy ?? {},
    disabled: row.disabled,
  };
}

function toDevice(row: DeviceRow): RegisteredDevice {
  return {
    ...toVersion(row),
    clock:
      row.offset_ms === null || row.seen_at === null
        ? null
        : { offsetMs: row.offset_ms, seenAtMs: row.seen_at.getTime() },
    associationId: row.association_id,
  };
}
