/** The clocks of devices as MDC_ATTR_TIME_ABS rows show them (IHE Devices TF-2, B.8.7 to B.8.9). */
import type { Identifier } from '../../vitals/shapes.js';
import type { ClockPair } from './delivery.js';
import type { OrderScope } from './order-scope.js';

/**
 * A clock that moved by more than this against the true time was set in between: it drifts by about a
 * second a day (DICOM PS3.3, and common practice).
 */
const STEP_MS = 60_000;

/** OBX-5 is what the device's clock shows, OBX-14 the time of the sender at that moment. */
export function readClockPairs(scope: OrderScope): readonly ClockPair[] {
  const { moments } = scope.message;
  const pairs: ClockPair[] = [];
  for (const row of scope.rows) {
    if (row.found.kind !== 'context' || row.found.context !== 'device-time') continue;
    const [device] = scope.devicesOf(row);
    const shown = moments.shown(row.obx.text(5));
    const reported = moments.moment(row.obx.text(14));
    if (device === undefined || shown === null || reported === null) continue;
    pairs.push({ device, deviceTimeMs: shown.epochMs, reporterTimeMs: reported.epochMs });
  }
  return pairs;
}

/** Tells the devices whose clock was set while these pairs were taken: before and after cannot be told apart. */
export function findClockSteps(pairs: readonly ClockPair[]): (device: Identifier) => boolean {
  const offsets = new Map<string, { least: number; most: number }>();
  for (const { device, deviceTimeMs, reporterTimeMs } of pairs) {
    const offset = deviceTimeMs - reporterTimeMs;
    const { least, most } = offsets.get(keyOf(device)) ?? { least: offset, most: offset };
    offsets.set(keyOf(device), { least: Math.min(least, offset), most: Math.max(most, offset) });
  }
  return (device) => {
    const seen = offsets.get(keyOf(device));
    return seen !== undefined && seen.most - seen.least > STEP_MS;
  };
}

function keyOf({ system, value }: Identifier): string {
  return JSON.stringify([system, value]);
}
