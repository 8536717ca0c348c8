/** Times that only the device's own clock told, put right by how far that clock was seen to be off. */
import { nameOf } from '../store/names.js';
import { readDeviceClock } from '../store/device-clocks.js';
import type { Pool } from '../store/pool.js';
import { correctDeviceTime } from '../vitals/device-clock.js';
import type { ReportDoubt } from '../vitals/device-report.js';
import type { DeliveredSet, DeviceFacts, IncomingReading } from '../vitals/shapes.js';

/** What a corrected time is no longer in doubt for. */
const SETTLED: ReadonlySet<ReportDoubt> = new Set(['clock-unset', 'time-missing']);

/**
 * Corrects what has no time but that of the device's own clock, if that was compared with the true time
 * lately; everything else stands as it was told. The device's time is kept in the report.
 *
 * @param receivedAtMs ms since the epoch
 */
export async function correctTimes(
  pool: Pool,
  sets: readonly DeliveredSet[],
  receivedAtMs: number,
): Promise<readonly DeliveredSet[]> {
  if (!sets.some((set) => set.readings.some(isTimedByDevice))) return sets;
  const clocks = new Map<string, DeviceFacts['clock']>();
  for (const { device } of sets.flatMap((set) => set.readings.filter(isTimedByDevice))) {
    if (device === undefined || clocks.has(nameOf(device.identifier))) continue;
    clocks.set(nameOf(device.identifier), await readDeviceClock(pool, device.identifier));
  }
  return sets.map((set) => ({
    ...set,
    readings: set.readings.map((reading) => corrected(reading, clocks, receivedAtMs)),
  }));
}

function isTimedByDevice({ takenAt, device, report }: IncomingReading): boolean {
  return takenAt === undefined && device !== undefined && report?.deviceTime !== undefined;
}

function corrected(
  reading: IncomingReading,
  clocks: ReadonlyMap<string, DeviceFacts['clock']>,
  receivedAtMs: number,
): IncomingReading {
  const { device, report } = reading;
  if (!isTimedByDevice(reading) || device === undefined || report?.deviceTime === undefined) {
    return reading;
  }
  const clock = clocks.get(nameOf(device.identifier)) ?? null;
  const timeMs = correctDeviceTime(Date.parse(report.deviceTime), clock, receivedAtMs);
  if (timeMs === null) return reading;
  const doubts = report.doubts?.filter((doubt) => !SETTLED.has(doubt)) ?? [];
  return { ...reading, takenAt: new Date(timeMs).toISOString(), report: { ...report, doubts } };
}
