/** Versions of panels as they are written: records of the table `panels`. */
import type { ClientBase } from 'pg';
import { nextPanel } from '../vitals/panel.js';
import type { KeptPanel, PanelReading } from '../vitals/panel.js';
import { insertRecords } from './insert-records.js';
import type { Columns, TableRecord } from './insert-records.js';

export const PANEL_RECORD_COLUMNS: Columns = [
  ['patient_key', 'integer'],
  ['identifier_key', 'integer'],
  ['effective_at', 'timestamptz'],
  ['stamp', 'timestamptz'],
  ['panel_id', 'uuid'],
  ['set_id', 'uuid'],
  ['source_key', 'integer'],
  ['encounter_key', 'integer'],
  ['recorder_key', 'integer'],
  ['recorder_asserted', 'boolean'],
  ['status', 'observation_status'],
  ['version', 'smallint'],
  ['edition', 'smallint'],
  ['offset_minutes', 'smallint'],
  ['members', 'uuid[]'],
];

/** A published reading of a set, with what its panel takes from it. */
export interface PanelSource extends PanelReading {
  /** Columns of the reading; needed of those only that the set itself brought. */
  readonly record: TableRecord;
}

/** The panel as it is kept, with its row. */
export type KeptPanelRecord = KeptPanel & {
  readonly version: number;
  readonly record: TableRecord;
};

/** What a panel takes from the earliest of its readings. */
const TAKEN_OVER = [
  ...['identifier_key', 'effective_at', 'offset_minutes', 'edition'],
  ...['set_id', 'source_key', 'encounter_key', 'recorder_key', 'recorder_asserted'],
] as const;

/** The row of the next version of a set's panel; null: there is to be none. */
export function panelRecord(
  panelId: string,
  before: KeptPanelRecord | null,
  published: readonly PanelSource[],
  stamp: string,
): TableRecord | null {
  const next = nextPanel(before, published);
  if (next === null) return null;
  const { patientKey, members, status, takenAtMs } = next;
  const anchor = published.find(
    (one) => one.own && one.takenAtMs === takenAtMs && members.includes(one.readingId),
  );
  // What was withdrawn stays what it was.
  const from = (status === 'entered-in-error' ? before : anchor)?.record ?? {};
  const record: Record<string, unknown> = {};
  for (const name of TAKEN_OVER) record[name] = from[name];
  return {
    ...record,
    ...{ panel_id: panelId, patient_key: patientKey, members, status, stamp },
    version: (before?.version ?? 0) + 1,
  };
}

/** Writes them; those that are not the first versions take the place of the ones before. */
export async function insertPanels(
  client: ClientBase,
  records: readonly TableRecord[],
): Promise<void> {
  const later = records.filter(({ version }) => Number(version) > 1);
  if (later.length > 0) {
    await client.query({
      name: 'supersede-panels',
      text: 'update panels set superseded = $2 where panel_id = any($1::uuid[]) and superseded is null',
      values: [later.map((record) => record.panel_id), later[0]?.stamp],
    });
  }
  await insertRecords(client, 'panels', PANEL_RECORD_COLUMNS, records);
}
