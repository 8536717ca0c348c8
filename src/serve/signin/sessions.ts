/** Sessions of people on the pages: begun at sign-in, found by the cookie of each request, ended. */
import { createHash, randomBytes } from 'node:crypto';
import type { Request, Response } from 'express';
import type { ClientCache } from '../auth/client-cache.js';
import { commonScopes } from '../auth/scopes.js';
import { noteActor } from '../http/audit-requests.js';
import type { CookieJar } from '../http/cookies.js';
import type { FindSignedIn } from '../http/guard-session.js';
import type { SignedIn } from '../http/route.js';
import type { ClientRecord } from '../../store/clients.js';
import { PAGES_CLIENT_ID } from '../../store/clients.js';
import type { Pool } from '../../store/pool.js';
import { addSession, endSession, findSession, touchSession } from '../../store/sessions.js';
import type { Identifier } from '../../vitals/shapes.js';
import type { SessionBounds, SessionRecord } from '../../store/sessions.js';

const COOKIE = 'session';
/** 256 bits in base64url. */
const SESSION_ID = /^[A-Za-z0-9_-]{43}$/;
const MINUTE_MS = 60_000;
/** How exactly the last request is known: not each one costs a write. */
const TOUCH_EVERY_MS = 15_000;

/** Who has proved to be whom, and what the person's roles allow. */
export interface ProvenPerson {
  readonly person: Identifier;
  readonly personKey: number;
  readonly name: string;
  readonly scopes: readonly string[];
}

export interface SessionSettings {
  readonly pool: Pool;
  readonly clients: ClientCache;
  readonly cookies: CookieJar;
  /** Without any request for so long, a session has ended. */
  readonly idleMinutes: number;
  /** So long after sign-in it has ended in any case. */
  readonly maxHours: number;
}

export interface Sessions {
  readonly findSignedIn: FindSignedIn;
  /** Begins a session under a new id, whatever id the browser came with; that one is ended. */
  begin(req: Request, res: Response, person: ProvenPerson): Promise<void>;
  /** Ends the session of the request, if there is one, and has the browser forget it. */
  end(req: Request, res: Response): Promise<void>;
}

/** Derived, so that it needs no keeping and tells nothing of the id. */
function csrfTokenOf(sessionId: string): string {
  return createHash('sha256').update(`csrf of ${sessionId}`).digest('base64url');
}

/** People stay at the desk when the source of the bedside is disabled: only its sets and tokens stop. */
function mayAct({ disabledAtMs, endsAtMs }: ClientRecord, nowMs: number): boolean {
  return disabledAtMs === null && (endsAtMs === null || nowMs < endsAtMs);
}

export function createSessions(settings: SessionSettings): Sessions {
  const { pool, clients, cookies, idleMinutes, maxHours } = settings;
  const maxMs = maxHours * 60 * MINUTE_MS;

  const bounds = (nowMs: number): SessionBounds => ({
    seenAfterMs: nowMs - idleMinutes * MINUTE_MS,
    createdAfterMs: nowMs - maxMs,
  });

  function idOf(req: Request): string | null {
    const value = cookies.read(req, COOKIE);
    return value !== null && SESSION_ID.test(value) ? value : null;
  }

  function toSignedIn(id: string, session: SessionRecord, client: ClientRecord): SignedIn {
    const { clientKey, clientId, sourceKey, source } = client;
    const { attended, secondIdentifierRequired, synchronised } = client;
    return {
      ...{ clientKey, clientId, sourceKey, source },
      ...{ attended, secondIdentifierRequired, synchronised },
      person: session.person,
      scopes: commonScopes(session.scopes, client.scopes),
      session: {
        name: session.name,
        personKey: session.personKey,
        csrfToken: csrfTokenOf(id),
        endsAtMs: session.createdAtMs + maxMs,
        isAlive: async () => (await findSession(pool, id, bounds(Date.now()))) !== null,
      },
    };
  }

  return {
    async findSignedIn(req, inBackground) {
      const id = idOf(req);
      if (id === null) return null;
      const nowMs = Date.now();
      const [session, client] = await Promise.all([
        findSession(pool, id, bounds(nowMs)),
        clients.find(PAGES_CLIENT_ID),
      ]);
      if (session === null || client === null || !mayAct(client, nowMs)) return null;
      const isDue = !inBackground && nowMs - session.seenAtMs >= TOUCH_EVERY_MS;
      if (isDue) await touchSession(pool, id, nowMs);
      return toSignedIn(id, session, client);
    },
    async begin(req, res, person) {
      const client = await clients.find(PAGES_CLIENT_ID);
      if (client === null) throw new Error('the client of the pages has vanished');
      noteActor(res, { clientKey: client.clientKey, person: person.person });
      const before = idOf(req);
      if (before !== null) await endSession(pool, before);
      const id = randomBytes(32).toString('base64url');
      const nowMs = Date.now();
      await addSession(pool, id, { ...person, createdAtMs: nowMs }, bounds(nowMs));
      cookies.write(res, COOKIE, id);
    },
    async end(req, res) {
      const id = idOf(req);
      if (id !== null) await endSession(pool, id);
      cookies.clear(res, COOKIE);
    },
  };
}
