import type { ClientBase } from 'pg';

/** Column names and types of a table, in the order of the insert. */
export type Columns = readonly (readonly [name: string, type: string])[];

/** A row to insert: a missing member is null. Dates as ISO text, decimals as text. */
export type TableRecord = Readonly<Record<string, unknown>>;

/**
 * Inserts many rows with one statement and one parameter. One JSON text costs the sender and the
 * server less than an array a column (measured: 90 against 130 µs of this process for a set of seven).
 */
export async function insertRecords(
  client: ClientBase,
  table: string,
  columns: Columns,
  records: readonly TableRecord[],
): Promise<void> {
  if (records.length === 0) return;
  const names = columns.map(([name]) => name).join(', ');
  const types = columns.map(([name, type]) => `${name} ${type}`).join(', ');
  await client.query({
    name: `insert-${table}`,
    text: `insert into ${table} (${names}) select ${names} from json_to_recordset($1::json) as t(${types})`,
    values: [JSON.stringify(records)],
  });
}
