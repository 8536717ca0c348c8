import type { Request, Response } from 'express';
import type { GatewayScope, Scope } from '../auth/scopes.js';
import type { Sender } from '../../pipeline.js';
import type { Identifier } from '../../vitals/shapes.js';

/** The client behind a verified token. `scopes` are those of the token that the client still holds. */
export interface Caller extends Sender {
  readonly scopes: readonly string[];
}

/** What the audit trail says of the requests to a route. */
export interface AuditSpec {
  /** What was done, e.g. `review-list`; the area and `read` or `write` when absent. */
  readonly action?: string;
  /** What it was done to, e.g. `readings/:id`, with the ids of the path; the path when absent. */
  readonly entity?: string;
  /**
   * Who writes the entry: `request`, this machinery, when the answer is over (when absent); `act`, the act
   * itself in its transaction, so that only what failed is left to this machinery; `act-and-refusals`, the
   * act, whatever came of it.
   */
  readonly by?: 'request' | 'act' | 'act-and-refusals';
}

/** What the pages know of the session that a request belongs to. */
export interface Session {
  /** What the person is called on the pages. */
  readonly name: string;
  /** The person's key in the register of people. */
  readonly personKey: number;
  /** What every form and script of this session sends along, so that no other site can. */
  readonly csrfToken: string;
  /** When it ends even if it is used all the time, in ms since the epoch. */
  readonly endsAtMs: number;
  /** Whether it is still good; asking does not keep it alive. */
  readonly isAlive: () => Promise<boolean>;
}

/** Somebody signed in with the pages. `scopes` are those of the person's roles. */
export interface SignedIn extends Caller {
  readonly person: Identifier;
  readonly session: Session;
}

/** The name of a published schema (its file in `schemas/` without `.schema.json`), or a schema in place. */
export type SchemaRef = string | Readonly<Record<string, unknown>>;

export interface ParameterSpec {
  readonly name: string;
  readonly in: 'path' | 'query' | 'header';
  readonly description: string;
  /** Path parameters are always required. */
  readonly required?: boolean;
  /** May stand more than once. */
  readonly repeats?: boolean;
  readonly schema?: SchemaRef;
  readonly example?: unknown;
}

export interface Content {
  readonly schema: SchemaRef;
  readonly example?: unknown;
  /** Several, each with the few words that tell it from the others. */
  readonly examples?: Readonly<Record<string, unknown>>;
}

export interface BodyContent extends Content {
  /** The handler reads the request stream itself; otherwise `readBody` has the bytes ready for `bodyOf`. */
  readonly streamed?: boolean;
}

export interface BodySpec {
  readonly description?: string;
  /** By media type, lower case, without parameters. Any other gets 415. */
  readonly content: Readonly<Record<string, BodyContent>>;
  /** Greatest size of a body that is not streamed, in bytes; 256 KiB when absent. */
  readonly maxBytes?: number;
  /** A request without a body is taken too (then `bodyOf` gives no bytes). */
  readonly optional?: boolean;
}

export interface ResponseSpec {
  readonly description: string;
  /** By media type; absent: no body. */
  readonly content?: Readonly<Record<string, Content>>;
  readonly headers?: Readonly<Record<string, string>>;
}

/** Which counter of requests a route draws on. `none` is for probes. */
export type RateClass = 'general' | 'check' | 'token' | 'look-up' | 'none';

interface RouteFacts {
  readonly method: 'get' | 'post' | 'put' | 'patch' | 'delete';
  /** Express 5 path, e.g. `/sets/:setId`. The pattern, never the address asked for, labels metrics. */
  readonly path: string;
  readonly summary: string;
  readonly description?: string;
  readonly parameters?: readonly ParameterSpec[];
  readonly body?: BodySpec;
  /**
   * Answers by status. Those that follow from the rest of the route (401, 403, 413, 415, 429, 500,
   * 503) are added to the published document by themselves.
   */
  readonly responses: Readonly<Record<number, ResponseSpec>>;
  /** `general` when absent. */
  readonly rateClass?: RateClass;
  /** A request to a public route leaves an entry where it is refused, or where its handler says who it is from (`noteActor`). */
  readonly audit?: AuditSpec | 'none';
}

/** A route that asks for no token. */
export interface PublicRoute extends RouteFacts {
  readonly by?: undefined;
  readonly scopes: 'public';
  readonly handler: (req: Request, res: Response) => void | Promise<void>;
}

/** A route that asks for a token with at least one of the scopes, or with all of them. */
export interface GuardedRoute extends RouteFacts {
  readonly by?: undefined;
  readonly scopes: readonly [Scope, ...Scope[]];
  readonly needsAll?: true;
  /**
   * Scopes narrowed by search parameters are enough too: the handler shows no more than they let see.
   * Without this they open nothing.
   */
  readonly narrowed?: true;
  readonly handler: (req: Request, res: Response, caller: Caller) => void | Promise<void>;
}

/**
 * A route for somebody signed in with the pages who has at least one of the scopes, or all of them; with
 * no scopes, for anybody signed in. Whatever is not GET must carry the session's token: in the field
 * `csrf` of a form, or in the header X-CSRF-Token.
 */
export interface SessionRoute extends Omit<RouteFacts, 'responses'> {
  readonly by: 'session';
  readonly scopes: readonly GatewayScope[];
  readonly needsAll?: true;
  /** Asked by a script of its own accord: that does not keep the session alive. */
  readonly background?: true;
  /** Pages are not in the published document. */
  readonly responses?: RouteFacts['responses'];
  readonly handler: (req: Request, res: Response, caller: SignedIn) => void | Promise<void>;
}

export type Route = PublicRoute | GuardedRoute | SessionRoute;

/** How an area words its errors: RFC 9457 problem documents, FHIR OperationOutcome, or pages for people. */
export type ErrorStyle = 'problem' | 'fhir' | 'page';

/**
 * The routes under one or more path prefixes that share a tag in the document and an error style. Areas
 * whose errors are pages are for people with a browser: the document leaves them out.
 */
export interface Area {
  readonly name: string;
  readonly description: string;
  /** Path prefix for which unknown paths are answered in this area's style, e.g. `/fhir`. */
  readonly prefix: string;
  readonly errorStyle: ErrorStyle;
  readonly routes: readonly Route[];
}

const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i;

/** Whether a text can be one of our ids. Anything else, a NUL in it perhaps, is asked of no database. */
export function isUuid(text: string): boolean {
  return UUID.test(text);
}

/** One parameter of the matched path. The router has matched it, so it is there. */
export function pathParameter(req: Request, name: string): string {
  const value = req.params[name];
  if (typeof value !== 'string') throw new Error(`the route has no parameter ${name}`);
  return value;
}

/** Every scope that some route asks for; some more than once. */
export function scopesAskedBy(areas: readonly Area[]): Scope[] {
  return areas.flatMap(({ routes }) =>
    routes.flatMap(({ scopes }): readonly Scope[] => (scopes === 'public' ? [] : scopes)),
  );
}
