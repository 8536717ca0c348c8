import { REPORT_DOUBTS, SIGNAL_DOUBTS, type DeviceReport } from '../../vitals/device-report.js';
import type { IncomingReading } from '../../vitals/shapes.js';
import { parentOf } from './containment.js';
import type { AmendingStatus, Amendment } from './delivery.js';
import type { JoinedReading } from './join-pressures.js';
import type { RowReading } from './row-reading.js';

const MAX_NOTE_CHARACTERS = 500;

/** The rows of one measurement as one reading. */
export function toReading({ rows, doubts }: JoinedReading): IncomingReading {
  const [first] = rows;
  const { sign, place, unit, code, time } = first;
  const [device, ...within] = first.devices;
  const note = [...new Set(rows.flatMap(({ notes }) => notes))]
    .join('. ')
    .slice(0, MAX_NOTE_CHARACTERS);
  return {
    vital: sign.vital,
    ...(sign.method !== undefined && { method: sign.method }),
    ...(place.site !== undefined && { site: place.site }),
    ...(place.side !== undefined && { side: place.side }),
    ...valuesOf(rows),
    ...(unit !== undefined && { unit }),
    ...(code !== undefined && { code }),
    ...(device !== undefined && {
      device: { identifier: device, ...(within.length > 0 && { within }) },
    }),
    ...(time.takenAt !== undefined && { takenAt: time.takenAt }),
    ...(note !== '' && { note }),
    index: Math.min(...rows.map(({ row }) => row.index)),
    report: reportOf(rows, doubts),
  };
}

function valuesOf(
  rows: readonly RowReading[],
): Pick<IncomingReading, 'value' | 'systolic' | 'diastolic' | 'mean'> {
  const values: Partial<Record<'value' | 'systolic' | 'diastolic' | 'mean', string>> = {};
  for (const { sign, value } of rows) {
    if (value !== undefined) values[sign.part ?? 'value'] = value;
  }
  return values;
}

function reportOf(rows: JoinedReading['rows'], doubts: JoinedReading['doubts']): DeviceReport {
  const [first] = rows;
  const { path } = first.row;
  // The parts of a pressure are metrics of one channel.
  const channel = (first.sign.part === undefined ? '' : parentOf(path)) || path.text;
  const places = rows.map(({ row }) => row.obx.occurrence).sort((one, other) => one - other);
  const asSent = rows.map((row) => row.asSent).find((text) => text !== undefined);
  const signal = SIGNAL_DOUBTS.filter((doubt) => rows.some((row) => row.signal.includes(doubt)));
  return {
    at: `OBX ${places.join(', ')}`,
    ...(channel !== '' && { channel }),
    ...(doubts.length > 0 && { doubts: REPORT_DOUBTS.filter((doubt) => doubts.includes(doubt)) }),
    ...(asSent !== undefined && { asSent }),
    reviewed: rows.every(({ reviewed }) => reviewed),
    ...(signal.length > 0 && { signal }),
    ...(first.time.deviceTime !== undefined && { deviceTime: first.time.deviceTime }),
  };
}

const KINDS: Readonly<Record<AmendingStatus, Amendment['kind']>> = {
  C: 'correct',
  D: 'withdraw',
  W: 'withdraw',
  U: 'finalise',
};

/**
 * What a reading says of an earlier one. Null: it stands by itself, as a test does too: it changes nothing
 * that was measured.
 */
export function toAmendment(
  joined: JoinedReading,
): Pick<Amendment, 'kind' | 'status' | 'reading'> | null {
  const { status } = joined.rows[0];
  if (status === 'standing' || joined.doubts.includes('test-data')) return null;
  return { kind: KINDS[status], status, reading: toReading(joined) };
}
