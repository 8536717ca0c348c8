import { SearchTooBroad } from '../errors.js';

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
