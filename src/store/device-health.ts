/** How devices do: when each was last heard, what became of its readings lately, how its clock goes. */
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import type { Verdict } from '../vitals/words.js';
import type { DeviceClock } from './device-clocks.js';

const HOUR_MS = 60 * 60 * 1000;
const DAY_MS = 24 * HOUR_MS;

/** A device that is registered, or that messages named within a week. Times in ms since the epoch. */
export interface DeviceHealth {
  readonly deviceId: string;
  readonly identifier: Identifier;
  /** Null: nobody registered it. */
  readonly registered: {
    readonly display: string | null;
    readonly type: string | null;
    readonly location: string | null;
    readonly disabled: boolean;
  } | null;
  readonly clock: DeviceClock | null;
  /** Null: nothing of the last week. */
  readonly lastHeardMs: number | null;
  /** Readings judged in this hour and the one before. */
  readonly lastTwoHours: number;
  /** Readings judged in the last day, this hour included. */
  readonly lastDay: Readonly<Record<Verdict, number>>;
}

interface HealthRow {
  device_id: string;
  system: string;
  value: string;
  version: number | null;
  display: string | null;
  type: string | null;
  location: string | null;
  disabled: boolean | null;
  offset_ms: number | null;
  seen_at: Date | null;
  last_at: Date | null;
  recent: number;
  accepted: number;
  noted: number;
  held: number;
  rejected: number;
}

const VERDICT_SUMS = (['accepted', 'noted', 'held', 'rejected'] as const)
  .map(
    (verdict) => `coalesce(sum(${verdict}) filter (where counted_hour > $1), 0)::int as ${verdict}`,
  )
  .join(', ');

/** The most troubled devices first: those with most rejected readings of the last day, then those last heard. */
export async function listDeviceHealth(
  pool: Pool,
  nowMs: number,
  limit: number,
): Promise<DeviceHealth[]> {
  const { rows } = await pool.query<HealthRow>(
    `with heard as (
       select device_key, max(last_at) as last_at, ${VERDICT_SUMS},
              coalesce(sum(accepted + noted + held + rejected)
                filter (where counted_hour > $2), 0)::int as recent
         from device_hours group by device_key)
     select d.device_id, d.system, d.value, v.version, v.display, v.type, p.path as location, v.disabled,
            k.offset_ms, k.seen_at, h.last_at, coalesce(h.recent, 0) as recent,
            coalesce(h.accepted, 0) as accepted, coalesce(h.noted, 0) as noted,
            coalesce(h.held, 0) as held, coalesce(h.rejected, 0) as rejected
       from devices d
       left join device_versions v on v.device_key = d.device_key and v.superseded is null
       left join places p on p.place_key = v.place_key
       left join device_clocks k on k.device_key = d.device_key
       left join heard h on h.device_key = d.device_key
      where v.device_key is not null or h.device_key is not null
      order by coalesce(h.rejected, 0) desc, h.last_at desc nulls last, d.device_key
      limit $3`,
    [new Date(nowMs - DAY_MS), new Date(nowMs - 2 * HOUR_MS), limit],
  );
  return rows.map(toHealth);
}

function toHealth(row: HealthRow): DeviceHealth {
  const { device_id: deviceId, system, value, display, type, location } = row;
  const { accepted, noted, held, rejected } = row;
  return {
    deviceId,
    identifier: { system, value },
    registered:
      row.version === null ? null : { display, type, location, disabled: row.disabled ?? false },
    clock:
      row.offset_ms === null || row.seen_at === null
        ? null
        : { offsetMs: row.offset_ms, seenAtMs: row.seen_at.getTime() },
    lastHeardMs: row.last_at?.getTime() ?? null,
    lastTwoHours: row.recent,
    lastDay: { accepted, noted, held, rejected },
  };
}
