/** Who is signed in with the pages. The id in the browser's cookie is kept as its hash only. */
import { createHash } from 'node:crypto';
import type { Pool } from 'pg';
import type { Identifier } from '../vitals/shapes.js';

/** Times in ms since the epoch. */
export interface SessionRecord {
  readonly person: Identifier;
  readonly personKey: number;
  /** What the person is called on the pages. */
  readonly name: string;
  readonly scopes: readonly string[];
  readonly createdAtMs: number;
  readonly seenAtMs: number;
}

/** Sessions seen after the one and begun after the other are good. */
export interface SessionBounds {
  readonly seenAfterMs: number;
  readonly createdAfterMs: number;
}

/** Rows that have ended are cleared so many at a time, each time somebody signs in. */
const CLEARED_AT_ONCE = 100;

function hashOf(sessionId: string): Buffer {
  return createHash('sha256').update(sessionId).digest();
}

/** Keeps a new session, and clears some that have ended. */
export async function addSession(
  pool: Pool,
  sessionId: string,
  session: Omit<SessionRecord, 'person' | 'seenAtMs'>,
  ended: SessionBounds,
): Promise<void> {
  await pool.query({
    name: 'clear-sessions',
    text: `delete from sessions where session_sha256 in (
             select session_sha256 from sessions where seen_at <= $1 or created_at <= $2
              order by seen_at limit $3 for update skip locked)`,
    values: [new Date(ended.seenAfterMs), new Date(ended.createdAfterMs), CLEARED_AT_ONCE],
  });
  const { personKey, name, scopes, createdAtMs } = session;
  await pool.query({
    name: 'add-session',
    text: `insert into sessions (session_sha256, person_key, name, scopes, created_at, seen_at)
           values ($1, $2, $3, $4, $5, $5)`,
    values: [hashOf(sessionId), personKey, name, scopes, new Date(createdAtMs)],
  });
}

interface SessionRow {
  person_key: number;
  system: string;
  value: string;
  name: string;
  scopes: string[];
  created_at: Date;
  seen_at: Date;
}

/** The session of this id if it is within the bounds; else null. */
export async function findSession(
  pool: Pool,
  sessionId: string,
  bounds: SessionBounds,
): Promise<SessionRecord | null> {
  const { rows } = await pool.query<SessionRow>({
    name: 'find-session',
    text: `select s.person_key, p.system, p.value, s.name, s.scopes, s.created_at, s.seen_at
             from sessions s join people p using (person_key)
            where s.session_sha256 = $1 and s.seen_at > $2 and s.created_at > $3`,
    values: [hashOf(sessionId), new Date(bounds.seenAfterMs), new Date(bounds.createdAfterMs)],
  });
  const [row] = rows;
  if (row === undefined) return null;
  return {
    person: { system: row.system, value: row.value },
    personKey: row.person_key,
    name: row.name,
    scopes: row.scopes,
    createdAtMs: row.created_at.getTime(),
    seenAtMs: row.seen_at.getTime(),
  };
}

/** Notes that the person was there at this moment (ms since the epoch). */
export async function touchSession(pool: Pool, sessionId: string, atMs: number): Promise<void> {
  await pool.query({
    name: 'touch-session',
    text: 'update sessions set seen_at = $2 where session_sha256 = $1 and seen_at < $2',
    values: [hashOf(sessionId), new Date(atMs)],
  });
}

/** Ends a session at once, in all processes. */
export async function endSession(pool: Pool, sessionId: string): Promise<void> {
  await pool.query({
    name: 'end-session',
    text: 'delete from sessions where session_sha256 = $1',
    values: [hashOf(sessionId)],
  });
}
