/** What a correction changes in the row of a reading. */
import { isDeepStrictEqual } from 'node:util';

type RecordOfReading = Record<string, unknown>;

/** Every column that a reading can fill, so that what the correction leaves out is emptied. */
export function clearedColumns(columns: RecordOfReading): RecordOfReading {
  const cleared: RecordOfReading = {};
  for (const name of READING_OWN_COLUMNS) cleared[name] = columns[name] ?? null;
  return { ...cleared, ...columns };
}

const VALUE_COLUMNS = [
  'amount',
  'systolic',
  'diastolic',
  'mean',
  'code',
  'absent',
  'entered',
  'vital',
  'method',
  'site',
  'side',
] as const;

const READING_OWN_COLUMNS = [
  ...VALUE_COLUMNS,
  'position',
  'device_key',
  'note',
  'context',
  'interpretation',
  'hold',
  'status',
  'findings',
  'derived',
] as const;

/** `corrected`: value, unit, method, site or time differ; `amended`: only circumstances; null: nothing does. */
export function changeOf(
  before: RecordOfReading,
  after: RecordOfReading,
): 'corrected' | 'amended' | null {
  const differs = (name: string): boolean =>
    !isDeepStrictEqual(before[name] ?? null, after[name] ?? null);
  const time =
    Date.parse(String(before.effective_at)) !== Date.parse(String(after.effective_at)) ||
    before.offset_minutes !== after.offset_minutes;
  if (time || VALUE_COLUMNS.some(differs)) return 'corrected';
  return ['position', 'device_key', 'note', 'context'].some(differs) ? 'amended' : null;
}
