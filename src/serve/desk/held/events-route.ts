/** Server-sent events (HTML Living Standard §9.2) for pages that show held readings. */
import type { Request, Response } from 'express';
import { HttpError } from '../../http/http-error.js';
import type { ParameterSpec, Route, SignedIn } from '../../http/route.js';
import type { HeldChange, HeldFeed } from './feed.js';

/** Often enough that no proxy takes the connection for dead, and a session's end is known within seconds. */
const BEAT_MS = 5_000;
/** A reader that takes nothing is let go: it comes again by itself. */
const MOST_UNSENT_BYTES = 64 * 1024;
/** How long a browser waits before it comes again. */
const RETRY_MS = 3_000;

function write(res: Response, lines: readonly string[]): void {
  if (res.writableLength > MOST_UNSENT_BYTES) res.destroy();
  else res.write(`${lines.join('\n')}\n\n`);
}

/** Numbers only: nothing of a patient goes this way. */
function sendChange(res: Response, change: HeldChange): void {
  write(res, ['event: held', `id: ${change.stampMs}`, `data: ${JSON.stringify(change)}`]);
}

/** Ends the stream with a last word to the page. */
function end(res: Response, event: 'session-ended' | 'stopped'): void {
  write(res, [`event: ${event}`, 'data: {}']);
  res.end();
}

async function beat(res: Response, { session }: SignedIn): Promise<void> {
  if (await session.isAlive()) write(res, [': beat']);
  else end(res, 'session-ended');
}

/** Up to which stamp the page knows the list: by the last event it got, else by when it was made. */
function heardUntil(req: Request): number {
  const { since } = req.query;
  const known = Number(req.headers['last-event-id'] ?? (typeof since === 'string' ? since : NaN));
  return Number.isFinite(known) ? known : 0;
}

function stream(feed: HeldFeed, req: Request, res: Response, caller: SignedIn): void {
  const heardMs = heardUntil(req);
  const stopListening = feed.listen({
    sinceMs: heardMs,
    onChange(change) {
      if (change.stampMs > heardMs) sendChange(res, change);
    },
    onStop: () => {
      end(res, 'stopped');
    },
  });
  if (stopListening === null) {
    const detail = 'As many pages are followed live as can be; load this one again to see changes.';
    throw new HttpError({ status: 503, detail, headers: { 'Retry-After': '60' } });
  }
  res.setHeader('Content-Type', 'text/event-stream');
  res.setHeader('X-Accel-Buffering', 'no');
  res.flushHeaders();
  write(res, [`retry: ${RETRY_MS}`]);
  const { lastChange } = feed;
  if (lastChange !== null && lastChange.stampMs > heardMs) sendChange(res, lastChange);
  const timer = setInterval(() => {
    beat(res, caller).catch(() => {
      res.destroy();
    });
  }, BEAT_MS);
  res.once('close', () => {
    clearInterval(timer);
    stopListening();
  });
}

const SINCE: ParameterSpec = {
  name: 'since',
  in: 'query',
  description: 'Stamp that the page was made at, in ms since the epoch.',
};

export function heldEventsRoute(feed: HeldFeed): Route {
  return {
    method: 'get',
    path: '/desk/held/events',
    by: 'session',
    background: true,
    scopes: ['review.read'],
    summary: 'Changes of the list of held readings as they happen',
    parameters: [SINCE],
    audit: { action: 'desk-follow', entity: 'desk/held' },
    handler(req, res, caller) {
      stream(feed, req, res, caller);
    },
  };
}
