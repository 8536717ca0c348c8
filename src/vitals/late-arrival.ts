/** A reading that arrived long after it was taken must not look like a present one. */

/** Proposed; entry by hand comes 38.5 min late on average (Fieler 2013). */
export const LATE_AFTER_MS = 4 * 60 * 60_000;

/** How late a reading arrived, in ms; null: not so late that it must be marked. */
export function latenessMs(receivedAtMs: number, takenAtMs: number): number | null {
  const delayMs = receivedAtMs - takenAtMs;
  return delayMs > LATE_AFTER_MS ? delayMs : null;
}
