/** How the clocks of devices go: told by messages that name the device's time beside the true one. */
import type { Pool } from 'pg';
import { canonicalDevice } from '../vitals/device-identifier.js';
import type { Identifier } from '../vitals/shapes.js';
import { nameOf } from './names.js';
import type { Names } from './names.js';
import { timeText } from './sql-values.js';

/** A device's own time and the true time of the same moment, as a message told both (ms since the epoch). */
export interface ClockPair {
  readonly device: Identifier;
  readonly deviceMs: number;
  readonly trueMs: number;
}

/** Device time minus true time. */
export interface DeviceClock {
  readonly offsetMs: number;
  readonly seenAtMs: number;
}

/**
 * Keeps the newest pair of each device. Before its readings are judged, so that they are judged by it;
 * a pair that is older than the one that is kept changes nothing.
 *
 * @param receivedAtMs when the message came (ms since the epoch): no pair was seen later, whatever it says
 */
export async function noteDeviceClocks(
  pool: Pool,
  names: Names,
  pairs: readonly ClockPair[],
  receivedAtMs: number,
): Promise<void> {
  const newest = new Map<string, ClockPair>();
  for (const told of pairs) {
    const pair = { ...told, device: canonicalDevice(told.device) };
    const known = newest.get(nameOf(pair.device));
    if (known === undefined || pair.trueMs >= known.trueMs) newest.set(nameOf(pair.device), pair);
  }
  if (newest.size === 0) return;
  const noted = [...newest.values()];
  await names.learnDevices(noted.map(({ device }) => device));
  await pool.query({
    name: 'note-device-clocks',
    // In the order of the keys: two processes never wait for each other crosswise.
    text: `insert into device_clocks (device_key, offset_ms, seen_at)
           select n.device_key, n.offset_ms, n.seen_at
             from unnest($1::int[], $2::bigint[], $3::timestamptz[]) as n(device_key, offset_ms, seen_at)
            order by n.device_key
           on conflict (device_key) do update
              set offset_ms = excluded.offset_ms, seen_at = excluded.seen_at
            where device_clocks.seen_at <= excluded.seen_at`,
    values: [
      noted.map(({ device }) => names.device(device)),
      noted.map(({ deviceMs, trueMs }) => Math.round(deviceMs - trueMs)),
      noted.map(({ trueMs }) => timeText(Math.min(trueMs, receivedAtMs))),
    ],
  });
}

/** Null: its clock was never seen beside the true time. */
export async function readDeviceClock(
  pool: Pool,
  { system, value }: Identifier,
): Promise<DeviceClock | null> {
  const { rows } = await pool.query<{ offset_ms: number; seen_at: Date }>({
    name: 'read-device-clock',
    text: `select c.offset_ms, c.seen_at from device_clocks c join devices d using (device_key)
            where d.system = $1 and d.value = $2`,
    values: [system, value],
  });
  const row = rows[0];
  return row === undefined ? null : { offsetMs: row.offset_ms, seenAtMs: row.seen_at.getTime() };
}

/** The clock of a registered device, for whoever watches over them. */
export interface WatchedClock extends DeviceClock {
  readonly deviceId: string;
  readonly device: Identifier;
}

/** The clocks of registered devices that are in use, those last seen first. */
export async function listRegisteredClocks(pool: Pool, limit: number): Promise<WatchedClock[]> {
  const { rows } = await pool.query<{
    device_id: string;
    system: string;
    value: string;
    offset_ms: number;
    seen_at: Date;
  }>(
    `select d.device_id, d.system, d.value, c.offset_ms, c.seen_at
       from device_clocks c
       join devices d using (device_key)
       join device_versions v using (device_key)
      where v.superseded is null and not v.disabled
      order by c.seen_at desc, c.device_key limit $1`,
    [limit],
  );
  return rows.map((row) => ({
    deviceId: row.device_id,
    device: { system: row.system, value: row.value },
    offsetMs: row.offset_ms,
    seenAtMs: row.seen_at.getTime(),
  }));
}
