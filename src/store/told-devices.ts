/** Devices and their parts as senders tell of them by resources: where later references to them lead. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { uuid7 } from './uuid7.js';

/** A device, or a part of one. */
export interface ToldPart {
  readonly identifier: Identifier;
  /** Of the part below the device; '' for the device itself. */
  readonly path: string;
  /** In a mode in which it shows no patient's values. */
  readonly testing: boolean;
  /** What it tells is set, not measured. */
  readonly setting: boolean;
}

/** Under which id it is found, and whether it was told for the first time. */
export interface ToldId {
  readonly id: string;
  readonly isNew: boolean;
}

/** Notes what was told; the newest word counts. One answer each, in order. */
export async function noteToldDevices(
  pool: Pool,
  names: Names,
  parts: readonly ToldPart[],
  nowMs: number,
): Promise<ToldId[]> {
  if (parts.length === 0) return [];
  await names.learnDevices(parts.map(({ identifier }) => identifier));
  // The last word on each: one statement cannot change a row twice.
  const last = new Map(parts.map((part) => [partName(part), part]));
  const rows = [...last.values()].sort((a, b) => (partName(a) < partName(b) ? -1 : 1));
  const { rows: told } = await pool.query<{
    device_key: number;
    device_id: string;
    path: string;
    told_id: string;
    is_new: boolean;
  }>({
    name: 'note-told-devices',
    text: `with told as (
             insert into told_devices (told_id, device_key, path, testing, setting, told_at)
             select n.told_id, n.device_key, n.path, n.testing, n.setting, $6
               from unnest($1::uuid[], $2::int[], $3::text[], $4::boolean[], $5::boolean[])
                    as n(told_id, device_key, path, testing, setting)
             on conflict (device_key, path) do update
                set testing = excluded.testing, setting = excluded.setting, told_at = excluded.told_at
             returning told_id, device_key, path)
           select t.told_id, t.device_key, t.path, d.device_id, t.told_id = any($1::uuid[]) as is_new
             from told t join devices d on d.device_key = t.device_key`,
    values: [
      rows.map(() => uuid7()),
      rows.map(({ identifier }) => names.device(identifier)),
      rows.map(({ path }) => path),
      rows.map(({ testing }) => testing),
      rows.map(({ setting }) => setting),
      new Date(nowMs).toISOString(),
    ],
  });
  const ids = new Map(
    told.map((row): [string, ToldId] => [
      `${row.device_key} ${row.path}`,
      { id: row.path === '' ? row.device_id : row.told_id, isNew: row.is_new },
    ]),
  );
  return parts.map(({ identifier, path }) => {
    const found = ids.get(`${names.device(identifier) ?? ''} ${path}`);
    if (found === undefined) throw new Error('a device was told and not noted');
    return found;
  });
}

function partName({ identifier, path }: ToldPart): string {
  return `${nameOf(identifier)} ${path}`;
}

/** What was told of a device, or of a part of it. */
export interface ToldDeviceFacts {
  readonly identifier: Identifier;
  readonly testing: boolean;
  readonly setting: boolean;
}

/** Devices and parts by their ids; one that nobody told of, or named, is missing. */
export async function findToldDevices(
  pool: Pool,
  ids: readonly string[],
): Promise<Map<string, ToldDeviceFacts>> {
  if (ids.length === 0) return new Map();
  const { rows } = await pool.query<ToldDeviceFacts & { id: string } & Identifier>({
    name: 'find-told-devices',
    text: `select p.id, d.system, d.value, p.setting,
                  p.testing or coalesce(own.testing, false) as testing
             from (select t.told_id as id, t.device_key, t.setting, t.testing
                     from told_devices t where t.told_id = any($1::uuid[]) and t.path <> ''
                    union all
                   select v.device_id, v.device_key, false, false
                     from devices v where v.device_id = any($1::uuid[])) p
             join devices d on d.device_key = p.device_key
             left join told_devices own on own.device_key = p.device_key and own.path = ''`,
    values: [ids],
  });
  return new Map(
    rows.map(({ id, system, value, testing, setting }) => [
      id,
      { identifier: { system, value }, testing, setting },
    ]),
  );
}

/** Names of those devices that were last said to show no patient's values. */
export async function findTestingDevices(
  pool: Pool,
  identifiers: readonly Identifier[],
): Promise<Set<string>> {
  if (identifiers.length === 0) return new Set();
  const { rows } = await pool.query<Identifier>({
    name: 'find-testing-devices',
    text: `select d.system, d.value
             from unnest($1::text[], $2::text[]) as n(system, value)
             join devices d on d.system = n.system and d.value = n.value
             join told_devices t on t.device_key = d.device_key and t.path = '' and t.testing`,
    values: [identifiers.map(({ system }) => system), identifiers.map(({ value }) => value)],
  });
  return new Set(rows.map(nameOf));
}
