import pg from 'pg';

export type { Pool } from 'pg';

export interface PoolOptions {
  readonly databaseUrl: string;
  /** The site's schema: all table names in queries are unqualified. */
  readonly schema: string;
  readonly maxConnections: number;
  /** After this time the server ends a statement, and what it locked is free again. */
  readonly statementTimeoutMs?: number;
}

/** How long a request waits for a connection before it is answered 503. */
const CONNECT_MS = 5_000;
const STATEMENT_MS = 10_000;
/** Above the statement's own limit, for a server or a network that does not answer at all. */
const ANSWER_SLACK_MS = 5_000;

/**
 * Opens a pool of connections to the site's schema. Nothing is connected yet; a database that is
 * away fails the queries, not the pool.
 *
 * Values: int8 is a number (a value beyond 2^53 fails its query), numeric stays text, timestamptz is
 * a Date; a session's time zone is UTC.
 */
export function openPool(options: PoolOptions): pg.Pool {
  const statementTimeoutMs = options.statementTimeoutMs ?? STATEMENT_MS;
  const pool = new pg.Pool({
    connectionString: withSchema(options.databaseUrl, options.schema),
    max: options.maxConnections,
    application_name: 'vital-sign-gateway',
    connectionTimeoutMillis: CONNECT_MS,
    statement_timeout: statementTimeoutMs,
    query_timeout: statementTimeoutMs + ANSWER_SLACK_MS,
    idle_in_transaction_session_timeout: statementTimeoutMs,
    keepAlive: true,
    types,
  });
  // An idle connection that breaks leaves the pool by itself; unheard, the event would end the process.
  pool.on('error', () => undefined);
  // The same for a connection in use: its query fails, and that is how the caller learns of it.
  pool.on('connect', (client) => client.on('error', () => undefined));
  return pool;
}

/**
 * Plans are made for each execution: one made while a site's tables were small would read them whole
 * for minutes after they have grown.
 *
 * The URL with the session settings of a site added to its own `options`: they cannot be given
 * beside a URL, because what the URL says replaces what stands beside it.
 */
export function withSchema(databaseUrl: string, schema: string): string {
  const url = new URL(databaseUrl);
  const own = url.searchParams.get('options');
  const settings = `-c search_path=${schema} -c timezone=UTC -c plan_cache_mode=force_custom_plan`;
  url.searchParams.set('options', own === null ? settings : `${own} ${settings}`);
  return url.href;
}

/** pg's own parsers, but for int8: this pool's alone, so that nothing global changes. */
const types: pg.CustomTypesConfig = {
  getTypeParser: (id, format) =>
    id === pg.types.builtins.INT8 && format !== 'binary'
      ? parseInt8
      : (pg.types.getTypeParser(id, format) as unknown),
};

function parseInt8(text: string): number {
  const value = Number(text);
  if (!Number.isSafeInteger(value)) throw new RangeError(`${text} is beyond the safe integers`);
  return value;
}
