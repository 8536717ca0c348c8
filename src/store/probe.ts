import type { Pool } from 'pg';

/** SQLSTATE of a table or a schema that is not there (PostgreSQL manual, appendix A). */
const NOT_MIGRATED = ['42P01', '3F000'];

export type DatabaseState = 'ready' | 'away' | 'not-migrated';

/** Whether the database answers and has the site's tables. Never throws. */
export async function probeDatabase(pool: Pool): Promise<DatabaseState> {
  try {
    await pool.query('select last_stamp from publication_clock');
    return 'ready';
  } catch (error) {
    return NOT_MIGRATED.includes((error as { code?: string }).code ?? '') ? 'not-migrated' : 'away';
  }
}
