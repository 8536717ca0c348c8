import type { Response } from 'express';
import type { Caller } from './route.js';

/** What the machinery notes about a request on its way to the handler. */
interface RequestLocals {
  caller?: Caller;
  /** Methods of the routes whose path matched, for the Allow header of a 405. */
  allowed?: Set<string>;
  /** What made the answer a 5xx: for the log, not for the client. */
  failure?: unknown;
}

export function localsOf(res: Response): RequestLocals {
  return res.locals as RequestLocals;
}
