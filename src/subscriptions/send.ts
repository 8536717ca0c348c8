/** One notification on its way to a subscriber, and what its answer means. */
import { OutsideError } from '../outside/fetch-outside.js';
import type { FetchOutside, OutsideAnswer } from '../outside/fetch-outside.js';
import { asHeaders } from '../serve/fhir/subscriptions/headers.js';
import type { SubscriptionWork } from '../store/subscription-work.js';
import { readRetryAfter } from './retry.js';

/** A subscriber has nothing to tell: what it sends back is read only so that the connection ends well. */
const MAX_ANSWER_BYTES = 1024 * 1024;
/** How long a notification may take where its owner has not said so. */
export const DEFAULT_TIMEOUT_MS = 10_000;

/** What became of a notification. No text holds the endpoint, save its host, or anything that was sent. */
export type Sent =
  | { readonly kind: 'taken' }
  /** The subscriber says that it will never be there again. */
  | { readonly kind: 'gone'; readonly error: string }
  /** It does not want this very notification. */
  | { readonly kind: 'refused'; readonly error: string }
  | { readonly kind: 'failed'; readonly error: string; readonly retryAfterMs: number | null };

/** RFC 9110 §15.5: the content of the request is at fault, not who sent it or where to. */
const REFUSALS = [400, 413, 415, 422];

function meaningOf({ status, headers }: OutsideAnswer, nowMs: number): Sent {
  const error = `The subscriber answered ${status}.`;
  if (status >= 200 && status < 300) return { kind: 'taken' };
  if (status === 410) return { kind: 'gone', error };
  if (REFUSALS.includes(status)) return { kind: 'refused', error };
  return { kind: 'failed', error, retryAfterMs: readRetryAfter(headers['retry-after'], nowMs) };
}

/** @param signal ends the attempt because the process is to stop */
export async function send(
  fetch: FetchOutside,
  work: SubscriptionWork,
  text: string,
  { nowMs, signal }: { readonly nowMs: number; readonly signal: AbortSignal },
): Promise<Sent> {
  try {
    const answer = await fetch(work.endpoint, {
      method: 'POST',
      headers: { ...asHeaders(work.headers), 'Content-Type': work.mimeType },
      body: text,
      maxBytes: MAX_ANSWER_BYTES,
      timeoutMs: work.timeoutSeconds === null ? DEFAULT_TIMEOUT_MS : work.timeoutSeconds * 1_000,
      signal,
    });
    return meaningOf(answer, nowMs);
  } catch (error) {
    if (!(error instanceof OutsideError)) throw error;
    return { kind: 'failed', error: error.message, retryAfterMs: null };
  }
}
