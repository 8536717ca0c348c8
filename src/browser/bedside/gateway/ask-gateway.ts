/** One request to the gateway. Whatever comes back that is not its own answer counts as no network. */
import type { Problem, WaitingReason } from '../door.js';

export interface GatewayRequest {
  readonly path: string;
  readonly method?: 'GET' | 'POST';
  readonly headers?: Readonly<Record<string, string>>;
  /** A text is sent as it is. */
  readonly body?: string | object;
  readonly timeoutMs?: number;
}

export type GatewayReply =
  | { readonly kind: 'answer'; readonly status: number; readonly body: unknown }
  | {
      readonly kind: 'problem';
      readonly status: number;
      readonly problem: Problem;
      /** When it may be asked again, as far as it says so. */
      readonly retryAfterMs: number | null;
    }
  | { readonly kind: 'no-network' };

/** Told of each answer's own time, in ms since the epoch, and how long the answer took. */
export type TimeListener = (gatewayMs: number, tookMs: number) => void;

/** Why a request that got no answer did not get one. */
export function reasonOf(reply: Exclude<GatewayReply, { kind: 'answer' }>): WaitingReason {
  if (reply.kind === 'no-network') return 'no-network';
  return reply.status === 401 || reply.status === 403 ? 'sign-in-needed' : 'gateway-busy';
}

const TIMEOUT_MS = 20_000;
const NO_NETWORK: GatewayReply = { kind: 'no-network' };

export type AskGateway = (request: GatewayRequest) => Promise<GatewayReply>;

export function createAskGateway(onTime: TimeListener): AskGateway {
  return async (request) => {
    const startedMs = performance.now();
    try {
      const response = await fetch(request.path, requestInit(request));
      const reply = await readReply(response);
      noteTime(response, performance.now() - startedMs, onTime);
      return reply;
    } catch {
      return NO_NETWORK;
    }
  };
}

function requestInit({
  method,
  headers,
  body,
  timeoutMs = TIMEOUT_MS,
}: GatewayRequest): RequestInit {
  return {
    method: method ?? (body === undefined ? 'GET' : 'POST'),
    headers: { ...(body !== undefined && { 'Content-Type': 'application/json' }), ...headers },
    ...(body !== undefined && { body: typeof body === 'string' ? body : JSON.stringify(body) }),
    cache: 'no-store',
    credentials: 'same-origin',
    // A redirect leads to somebody else: to a hotspot's page, or to where people sign in.
    redirect: 'manual',
    signal: AbortSignal.timeout(timeoutMs),
  };
}

async function readReply(response: Response): Promise<GatewayReply> {
  if (response.type === 'opaqueredirect') return signInNeeded();
  const type = response.headers.get('Content-Type') ?? '';
  const isProblem = type.startsWith('application/problem+json');
  if (!isProblem && !type.startsWith('application/json')) return NO_NETWORK;
  const body: unknown = await response.json();
  const { status } = response;
  if (!isProblem) return { kind: 'answer', status, body };
  return {
    kind: 'problem',
    status,
    problem: body as Problem,
    retryAfterMs: retryAfterMs(response.headers.get('Retry-After')),
  };
}

function signInNeeded(): GatewayReply {
  const problem = { status: 401, detail: 'Sign in first.' };
  return { kind: 'problem', status: 401, problem, retryAfterMs: null };
}

function retryAfterMs(header: string | null): number | null {
  const seconds = Number(header ?? Number.NaN);
  return Number.isFinite(seconds) && seconds >= 0 ? seconds * 1000 : null;
}

/** RFC 9110 §6.6.1: `Date` is to the second, so half of one is added. */
function noteTime(response: Response, tookMs: number, onTime: TimeListener): void {
  const gatewayMs = Date.parse(response.headers.get('Date') ?? '');
  if (Number.isFinite(gatewayMs)) onTime(gatewayMs + 500, tookMs);
}
