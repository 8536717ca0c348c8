import { randomUUID } from 'node:crypto';

/**
 * A UUID version 7 (RFC 9562 §5.7): 48 bits of time, the rest random. Made of Node's own version 4,
 * whose random bits come from a pool: the hot path draws one a set.
 * @param epochMs its time, in ms since the epoch
 */
export function uuid7(epochMs = Date.now()): string {
  const time = Math.trunc(epochMs).toString(16).padStart(12, '0');
  return `${time.slice(0, 8)}-${time.slice(8)}-7${randomUUID().slice(15)}`;
}
