/** Forms as the bodies that the routes under /rules take: one reader checks both. */
import { readSiteTime } from '../../pages/site-time.js';

/** Members that are undefined are left out. */
export function bytesOf(body: Readonly<Record<string, unknown>>): Buffer {
  return Buffer.from(JSON.stringify(body));
}

/**
 * The time of a field as RFC 3339; undefined: it is empty. What is no time stays as it is, to be refused
 * with the other faults.
 *
 * @param zone IANA name
 */
export function siteInstant(text: string | null, zone: string): string | undefined {
  const written = (text ?? '').trim();
  if (written === '') return undefined;
  const atMs = readSiteTime(written, zone);
  return atMs === null ? written : new Date(atMs).toISOString();
}
