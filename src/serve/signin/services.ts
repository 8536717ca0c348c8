import type { Request } from 'express';
import type { FailureLimit } from '../auth/failure-limit.js';
import type { KeyRing } from '../auth/key-ring.js';
import type { Pool } from '../../store/pool.js';
import type { Sessions } from './sessions.js';

export interface SignInServices {
  readonly pool: Pool;
  readonly sessions: Sessions;
  readonly keys: KeyRing;
  readonly publicUrl: string;
  readonly tokenMinutes: number;
  /** People of the demo sign in by a password. */
  readonly localSignIn: boolean;
  readonly failures: FailureLimit;
}

/** The field of a form or the parameter of an address, if it is there once and is text. */
export function queryText(req: Request, name: string): string | null {
  const value = req.query[name];
  return typeof value === 'string' ? value : null;
}
