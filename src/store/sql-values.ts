/** The values of a statement that is put together from parts: bound, never written into the text. */
export class SqlValues {
  readonly list: unknown[] = [];

  /** The placeholder of a value, with the type it has in the database where that is not plain. */
  bind(value: unknown, type?: string): string {
    this.list.push(value);
    const placeholder = `$${String(this.list.length)}`;
    return type === undefined ? placeholder : `${placeholder}::${type}`;
  }

  /** @param epochMs ms since the epoch; beyond the years 1 to 9999 it is taken as infinity. */
  bindTime(epochMs: number): string {
    return this.bind(timeText(epochMs), 'timestamptz');
  }
}

const FIRST_MS = Date.parse('0001-01-01T00:00:00Z');
const LAST_MS = Date.parse('9999-12-31T23:59:59.999Z');

/** A time for the database, told as {@link SqlValues.bindTime} takes it. */
export function timeText(epochMs: number): string {
  if (epochMs < FIRST_MS) return '-infinity';
  return epochMs > LAST_MS ? 'infinity' : new Date(epochMs).toISOString();
}

/** The demand that a time lies from `fromMs` (inclusive) to `toMs` (exclusive); null: without end. */
export function timeRangeSql(
  column: string,
  range: { readonly fromMs: number | null; readonly toMs: number | null },
  values: SqlValues,
): string {
  const ends = [
    ...(range.fromMs === null ? [] : [`${column} >= ${values.bindTime(range.fromMs)}`]),
    ...(range.toMs === null ? [] : [`${column} < ${values.bindTime(range.toMs)}`]),
  ];
  return ends.length === 0 ? 'true' : `(${ends.join(' and ')})`;
}
