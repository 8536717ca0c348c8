/** Of which readings of a set it is in doubt whose they are. */
import type { Finding, Reading } from './shapes.js';

/** Answers for a reading by its place in the set. */
export type IdentityDoubted = (reading: Pick<Reading, 'index'>) => boolean;

const OF_ALL: IdentityDoubted = () => true;
const OF_NONE: IdentityDoubted = () => false;

/** A finding that names no reading doubts the whole set; one that names some doubts those alone. */
export function identityDoubtOf(findings: readonly Finding[]): IdentityDoubted {
  let named: Set<number> | null = null;
  for (const { hold, readings } of findings) {
    if (hold !== 'identity') continue;
    if (readings.length === 0) return OF_ALL;
    named ??= new Set();
    for (const index of readings) named.add(index);
  }
  if (named === null) return OF_NONE;
  const doubted = named;
  return ({ index }) => doubted.has(index);
}
