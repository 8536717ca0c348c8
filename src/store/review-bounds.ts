import type { Pool } from 'pg';
import { SearchTooBroad } from '../errors.js';
import type { SqlValues } from './sql-values.js';

/** SQLSTATE query_canceled: the statement took longer than the pool allows (PostgreSQL manual, appendix A). */
const QUERY_CANCELED = '57014';

/**
 * Waits for a search that whoever asks can make as broad as the table. Elsewhere a statement that is
 * cut off means that the database is in trouble; here it is the search that has to be narrowed.
 *
 * @throws SearchTooBroad when the database did not come to an end with it in time.
 */
export async function boundSearch<T>(work: Promise<T>): Promise<T> {
  try {
    return await work;
  } catch (error) {
    const { code } = (error ?? {}) as { code?: unknown };
    throw code === QUERY_CANCELED ? new SearchTooBroad() : error;
  }
}

/**
 * How many rows a query has, from its `from` on; counting stops at `most`.
 *
 * @throws SearchTooBroad when the database did not come to an end with it in time.
 */
export async function countRows(
  pool: Pool,
  query: string,
  values: SqlValues,
  most: number,
): Promise<number> {
  const { rows } = await boundSearch(
    pool.query<{ count: number }>(
      `select count(*)::int as count from (select ${query} limit ${values.bind(most, 'int')}) f`,
      values.list,
    ),
  );
  return rows[0]?.count ?? 0;
}
