import type { Reading } from '../vitals/shapes.js';

/** Enough to know it again by. */
const SHOWN_CHARACTERS = 60;

/** The value of one reading as it was sent, in quotes; null: of several, or nothing is kept of it. */
export function quoteSent(about: readonly Reading[]): string | null {
  const [reading] = about;
  const sent = reading?.report?.asSent;
  if (about.length > 1 || sent === undefined) return null;
  return `"${sent.length > SHOWN_CHARACTERS ? `${sent.slice(0, SHOWN_CHARACTERS)}…` : sent}"`;
}
