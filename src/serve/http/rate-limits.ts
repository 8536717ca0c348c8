import { ipKeyGenerator, rateLimit } from 'express-rate-limit';
import type { Request, RequestHandler } from 'express';
import { HttpError } from './http-error.js';
import { localsOf } from './locals.js';
import type { Caller, RateClass } from './route.js';

const WINDOW_MS = 60_000;

/** Requests a minute: by client where a token was shown, by person on the pages, else by address. */
export interface RateLimitSettings {
  readonly generalPerMinute: number;
  readonly checkPerMinute: number;
  readonly tokenPerMinute: number;
  readonly lookUpPerMinute: number;
}

/** A 429 that says in whole seconds when to come again. */
export function tooManyRequests(resetTime: Date | undefined): HttpError {
  const waitMs = (resetTime?.getTime() ?? Date.now() + WINDOW_MS) - Date.now();
  const retryAfterSeconds = Math.max(1, Math.ceil(waitMs / 1000));
  return new HttpError({
    status: 429,
    detail: `Too many requests; come again in ${retryAfterSeconds} s.`,
    headers: { 'Retry-After': String(retryAfterSeconds) },
  });
}

/** The address that a request is counted under; neighbours of an IPv6 network count as one. */
export function addressOf(req: Request): string {
  return ipKeyGenerator(req.ip ?? 'unknown');
}

/** People of the pages share a client, and each is counted alone. */
function counterOf(req: Request, caller: Caller | undefined): string {
  if (caller === undefined) return addressOf(req);
  const { clientId, person } = caller;
  return person === null ? clientId : `${clientId} ${person.system}|${person.value}`;
}

function limiter(limit: number): RequestHandler {
  return rateLimit({
    windowMs: WINDOW_MS,
    limit,
    standardHeaders: false,
    legacyHeaders: false,
    // Its self-checks write to the console, with addresses in them.
    validate: false,
    keyGenerator: (req, res) => counterOf(req, localsOf(res).caller),
    handler: (req, res, next) => {
      const { rateLimit: state } = req as { rateLimit?: { resetTime?: Date; used?: number } };
      localsOf(res).overLimit = state?.used === limit + 1 ? 'first' : 'later';
      next(tooManyRequests(state?.resetTime));
    },
  });
}

/** One counter for each class, shared by all its routes. */
export function createRateLimits(
  settings: RateLimitSettings,
): Record<Exclude<RateClass, 'none'>, RequestHandler> {
  return {
    general: limiter(settings.generalPerMinute),
    check: limiter(settings.checkPerMinute),
    token: limiter(settings.tokenPerMinute),
    'look-up': limiter(settings.lookUpPerMinute),
  };
}
