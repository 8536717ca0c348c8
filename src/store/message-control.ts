/** Control ids of messages: senders use them again, so they tell nothing by themselves. */
import type { Pool } from 'pg';

/** Whether another message of the source had this control id (MSH-10). */
export async function isControlIdUsed(
  pool: Pool,
  sourceKey: number,
  controlId: string,
): Promise<boolean> {
  const { rows } = await pool.query({
    name: 'find-control-id',
    text: 'select from messages where source_key = $1 and control_id = $2 limit 1',
    values: [sourceKey, controlId],
  });
  return rows.length > 0;
}

/** How a message was answered, where that was not known when it was kept. */
export async function setAcknowledged(
  pool: Pool,
  submissionId: string,
  code: string | null,
): Promise<void> {
  await pool.query('update messages set acknowledged = $2 where submission_id = $1', [
    submissionId,
    code,
  ]);
}
