import type { Response } from 'express';
import type { Look } from '../../store/audit-looks.js';
import type { Identifier } from '../../vitals/shapes.js';
import type { Caller, SignedIn } from './route.js';

/** What a handler adds to the entry of its request in the audit trail. */
export type Looked = Partial<Pick<Look, 'action' | 'entity' | 'patientIds' | 'query' | 'detail'>>;

/** Who a request is from, as the audit trail names them. */
export interface Actor {
  readonly clientKey: number;
  readonly person?: Identifier | null;
}

/** What the machinery notes about a request on its way to the handler. */
interface RequestLocals {
  /** X-Request-Id, as it was sent or given. */
  requestId?: string;
  caller?: Caller;
  /** Who was found out to be asking on a route that asks for no token, as who signs in. */
  actor?: Actor;
  /** Credentials were refused; of which client, where that is known. */
  refused?: { readonly clientKey: number | undefined };
  /** It is beyond what its client may ask a minute; the first of them, or a later one. */
  overLimit?: 'first' | 'later';
  looked?: Looked;
  /** The caller, where it is a person signed in with the pages. */
  signedIn?: SignedIn;
  /** Methods of the routes whose path matched, for the Allow header of a 405. */
  allowed?: Set<string>;
  /** What made the answer a 5xx: for the log, not for the client. */
  failure?: unknown;
}

export function localsOf(res: Response): RequestLocals {
  return res.locals as RequestLocals;
}
