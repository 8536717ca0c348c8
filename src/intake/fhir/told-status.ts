/** Status that was told beside the readings, held against them. */
import type { Identifier } from '../../vitals/shapes.js';
import { withSignal, type Assembled } from './assemble-reading.js';
import { isAbout, type StatusBits } from './read-status-bits.js';
import type { SentEntry } from './sent-entry.js';

export interface ToldStatus {
  readonly entry: SentEntry;
  readonly bits: StatusBits;
  /** Places of the entries that it says it is derived from. */
  readonly sources: readonly number[];
  readonly device: Identifier | null;
  readonly takenAt: string | null;
}

/** Of the same device and time, or named by it. */
function concerns({ bits, sources, device, takenAt }: ToldStatus, { reading }: Assembled): boolean {
  if (sources.includes(reading.index)) return true;
  const own = reading.device?.identifier;
  return (
    isAbout(bits, reading) &&
    device !== null &&
    own?.system === device.system &&
    own.value === device.value &&
    takenAt !== null &&
    reading.takenAt !== undefined &&
    Date.parse(reading.takenAt) === Date.parse(takenAt)
  );
}

/** The readings with what the statuses doubt, and the entries of those that are about none of them. */
export function applyStatuses(
  readings: readonly Assembled[],
  statuses: readonly ToldStatus[],
): { readonly readings: readonly Assembled[]; readonly idle: ReadonlySet<SentEntry> } {
  const idle = new Set<SentEntry>();
  let doubted = readings;
  for (const status of statuses) {
    if (!readings.some((one) => concerns(status, one))) idle.add(status.entry);
    if (!status.bits.doubtful) continue;
    doubted = doubted.map((one) => (concerns(status, one) ? withSignal(one, 'questionable') : one));
  }
  return { readings: doubted, idle };
}
