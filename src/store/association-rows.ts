/** The rows behind associations of devices and patients: read and ended under the device's lock. */
import type { ClientBase } from 'pg';
import type { Identifier } from '../vitals/shapes.js';
import { insertAudit } from './audit.js';
import type { Actor } from './editions.js';
import { timeText } from './sql-values.js';

/** What made or ended an association: the message of a submission that is kept, or a client. */
export type AssociationOrigin =
  | { readonly origin: 'message'; readonly submissionId: string }
  | { readonly origin: 'admin'; readonly actor: Actor };

/** From its start (inclusive) to its end (exclusive), in ms since the epoch; end null: not ended. */
export interface AssociationSpan {
  readonly associationId: string;
  readonly fromMs: number;
  readonly toMs: number | null;
}

export interface SpanRow {
  association_key: number;
  association_id: string;
  patient_key: number;
  from_at: Date;
  to_at: Date | null;
}

const SPAN_COLUMNS = 'association_key, association_id, patient_key, from_at, to_at';

/** Those that hold at the time or begin after it, oldest first; what never held is left out. */
export async function readSpansAfter(
  client: ClientBase,
  deviceKey: number,
  fromMs: number,
): Promise<SpanRow[]> {
  const { rows } = await client.query<SpanRow>(
    `select ${SPAN_COLUMNS} from associations
      where device_key = $1 and coalesce(to_at, 'infinity'::timestamptz) > $2
        and coalesce(to_at, 'infinity'::timestamptz) > from_at
      order by from_at`,
    [deviceKey, timeText(fromMs)],
  );
  return rows;
}

/** The last that began by this time, and whether it is this patient's; null: none did. */
export async function readLastSpan(
  client: ClientBase,
  deviceKey: number,
  atMs: number,
  patient: Identifier | null,
): Promise<(SpanRow & { readonly is_meant: boolean }) | null> {
  const { rows } = await client.query<SpanRow & { is_meant: boolean }>(
    `select ${SPAN_COLUMNS},
            exists (select from patient_identifiers i
                     where i.system = $3 and i.value = $4 and i.patient_key = a.patient_key) as is_meant
       from associations a
      where device_key = $1 and from_at <= $2
        and coalesce(to_at, 'infinity'::timestamptz) > from_at
      order by from_at desc limit 1`,
    [deviceKey, timeText(atMs), patient?.system ?? null, patient?.value ?? null],
  );
  return rows[0] ?? null;
}

export async function readSpan(client: ClientBase, associationId: string): Promise<SpanRow> {
  const { rows } = await client.query<SpanRow>(
    `select ${SPAN_COLUMNS} from associations where association_id = $1`,
    [associationId],
  );
  if (rows[0] === undefined) throw new Error('an association has vanished');
  return rows[0];
}

export async function setEnd(
  client: ClientBase,
  { association_key: key }: SpanRow,
  atMs: number,
  endedBy: 'next-association' | 'disassociation' | 'admin',
): Promise<void> {
  await client.query(
    'update associations set to_at = $2, ended_by = $3 where association_key = $1',
    [key, timeText(atMs), endedBy],
  );
}

export function toSpan(row: SpanRow): AssociationSpan {
  return {
    associationId: row.association_id,
    fromMs: row.from_at.getTime(),
    toMs: row.to_at?.getTime() ?? null,
  };
}

export async function readDevice(
  client: ClientBase,
  deviceKey: number,
): Promise<{ device_id: string; disabled: boolean | null }> {
  const { rows } = await client.query<{ device_id: string; disabled: boolean | null }>(
    `select d.device_id, v.disabled from devices d
       left join device_versions v on v.device_key = d.device_key and v.superseded is null
      where d.device_key = $1`,
    [deviceKey],
  );
  if (rows[0] === undefined) throw new Error('a device has vanished');
  return rows[0];
}

/** Which association something happened to, for the audit trail. */
export interface AuditedAssociation {
  readonly deviceId: string;
  readonly associationId: string;
  readonly patientKey: number;
}

export async function auditAssociation(
  client: ClientBase,
  by: AssociationOrigin,
  action: 'device-associate' | 'device-disassociate',
  { deviceId, associationId, patientKey }: AuditedAssociation,
): Promise<void> {
  const who =
    by.origin === 'admin' ? by.actor : { clientKey: null, detail: { submission: by.submissionId } };
  const entity = `devices/${deviceId}/associations/${associationId}`;
  await insertAudit(client, [{ ...who, patientKey, action, outcome: 200, entity }]);
}
