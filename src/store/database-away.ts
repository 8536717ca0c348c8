/**
 * Tells "the database cannot serve this now, try again" from a fault of ours. SQLSTATE classes and
 * codes are those of the PostgreSQL manual, appendix A.
 */
const AWAY_CLASSES = [
  '08', // connection exception
  '28', // login refused
  '3D', // no such database
  '53', // out of connections, memory or disk
  '57', // shut down, crashed, starting up; statement time-out (57014)
  '58', // system error of the server
];
const AWAY_CODES = [
  '25006', // read-only transaction: the primary has become a standby
  '25P03', // idle-in-transaction time-out
  '40001', // serialization failure
  '40P01', // deadlock
  '55P03', // lock time-out
];
/** What the socket says, by Node's system error codes. */
const SOCKET_CODES = [
  'ECONNREFUSED',
  'ECONNRESET',
  'EPIPE',
  'ETIMEDOUT',
  'EHOSTUNREACH',
  'ENETUNREACH',
  'ENOTFOUND',
  'EAI_AGAIN',
];
/** The driver gives these no code; the words are those of pg 8 and pg-pool 3. */
const DRIVER_WORDS =
  /^(Connection terminated|timeout exceeded when trying to connect|Client has encountered a connection error|Client was closed|Query read timeout|Cannot use a pool after calling end|timeout expired)/;

/** Whether the failure of a query says that the database is away, overloaded or cut us off. */
export function isDatabaseAway(error: unknown): boolean {
  if (typeof error !== 'object' || error === null) return false;
  const { code, syscall, message } = error as Record<string, unknown>;
  if (typeof code !== 'string') return typeof message === 'string' && DRIVER_WORDS.test(message);
  return (
    SOCKET_CODES.includes(code) ||
    (code === 'ENOENT' && syscall === 'connect') || // the unix socket is gone
    AWAY_CODES.includes(code) ||
    (/^[0-9A-Z]{5}$/.test(code) && AWAY_CLASSES.includes(code.slice(0, 2)))
  );
}
