import type { Moment } from '../vitals/shapes.js';

/**
 * Reads an RFC 3339 time with its offset. Digits beyond the millisecond are cut off.
 * @param text checked by the contract: a real day, no leap second, `Z` or `±hh:mm` in capitals
 */
export function toMoment(text: string): Moment {
  return { epochMs: Date.parse(text), offsetMinutes: offsetMinutesOf(text) };
}

function offsetMinutesOf(text: string): number {
  if (text.endsWith('Z')) return 0;
  const hours = Number(text.slice(-5, -3));
  const minutes = hours * 60 + Number(text.slice(-2));
  // A time "-00:00" must not become a negative zero.
  return text.at(-6) === '-' && minutes > 0 ? -minutes : minutes;
}
