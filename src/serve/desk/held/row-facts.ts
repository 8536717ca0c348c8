/** What a list of readings says of each: made of what the review knows. */
import type { RegisteredName, ReviewReading } from '../../../store/review-readings.js';
import { picture } from '../submissions/inert-text.js';
import type { Finding } from '../../../vitals/shapes.js';

export function personName(name: RegisteredName | null | undefined): string {
  if (name === null || name === undefined) return '';
  const parts = [...(name.given ?? []), name.family ?? ''].join(' ').trim();
  return picture(name.text ?? parts);
}

/** The findings that hold (or reject) a reading: the grounds of its verdict. */
export function groundsOf({ version }: ReviewReading): Finding[] {
  return version.findings.filter(({ verdict }) => verdict === version.verdict);
}

/** The rules that hold a reading, as one text: readings of the same are decided together. */
export function reasonOf(reading: ReviewReading): string {
  const rules = groundsOf(reading).map(({ rule }) => rule);
  return [...new Set(rules)].sort().join(' ');
}
