import type { Pool } from 'pg';
import type { ReadingVersion } from '../vitals/shapes.js';
import { READING_COLUMNS, READING_TABLES, toReadingVersion } from './reading-rows.js';
import type { ReadingRow } from './reading-rows.js';

/** One version of a reading. */
export interface VersionName {
  readonly id: string;
  readonly version: number;
}

/** Published versions by id; of each id the one that was asked for. */
export async function findVersions(
  pool: Pool,
  wanted: readonly VersionName[],
): Promise<Map<string, ReadingVersion>> {
  if (wanted.length === 0) return new Map();
  const { rows } = await pool.query<ReadingRow>({
    name: 'find-versions',
    text: `select ${READING_COLUMNS} from ${READING_TABLES}
             join unnest($1::uuid[], $2::int[]) as n(id, version)
               on r.reading_id = n.id and r.version = n.version
            where r.status is not null`,
    values: [wanted.map(({ id }) => id), wanted.map(({ version }) => version)],
  });
  return new Map(rows.map((row) => [row.reading_id, toReadingVersion(row)]));
}
