/** Values of date parameters (FHIR R4 §3.1.1.4.7), as far as they are asked of a moment. */
import { rangesOf, readStatedTime } from './search-date.js';
import type { SearchContext } from './search-parameter.js';
import { readPlain } from './token-values.js';

export function readTime(
  value: string,
  { siteMs }: SearchContext,
): ReturnType<typeof readStatedTime> {
  return readStatedTime(readPlain(value), siteMs);
}

export function timeRanges(
  values: readonly string[],
  context: SearchContext,
): ReturnType<typeof rangesOf> {
  return values.flatMap((value) => rangesOf(readTime(value, context), context.nowMs));
}

/** A value as it was understood, for the self link. */
export function resolveTime(value: string, context: SearchContext): string {
  return readTime(value, context).resolved;
}
