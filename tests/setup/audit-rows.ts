import type { Pool } from '../../src/store/pool.js';

export interface AuditRow {
  readonly audit_id: string;
  readonly client_key: number | null;
  readonly patient_key: number | null;
  readonly action: string;
  readonly outcome: number;
  readonly entity: string | null;
  readonly request_id: string | null;
  readonly address: string | null;
  readonly detail: Readonly<Record<string, unknown>> | null;
}

/** Entries that meet a condition, in the order in which they were made; waits until there are so many. */
export async function auditRows(
  pool: Pool,
  condition: string,
  values: readonly unknown[] = [],
  least = 1,
): Promise<AuditRow[]> {
  for (let turn = 0; ; turn += 1) {
    const { rows } = await pool.query<AuditRow>(
      `select audit_id, client_key, patient_key, action, outcome, entity, request_id, address, detail
         from audit where ${condition} order by audit_id`,
      [...values],
    );
    if (rows.length >= least || turn === 200) return rows;
    await new Promise((resolve) => setTimeout(resolve, 25));
  }
}
