/** Where in the text of an HL7 v2 message the fields of a segment stand (HL7 v2.9.1 §2.5: segments, fields). */
import type { Stretch } from './locate-json.js';

export interface LocatedSegment {
  readonly name: string;
  /** Of its name, counted from 1 in the whole text. */
  readonly occurrence: number;
  readonly whole: Stretch;
  /** By field number; MSH-1 is the separator itself. */
  readonly fields: readonly Stretch[];
}

function fieldsOf(line: string, start: number, separator: string): Stretch[] {
  const fields: Stretch[] = [];
  let from = start;
  for (const part of line.split(separator)) {
    fields.push({ from, to: from + part.length });
    from += part.length + separator.length;
  }
  // The name of the segment is no field, but in MSH the separator counts as the first one.
  if (!line.startsWith('MSH')) return fields;
  const [name, ...others] = fields;
  return [name ?? { from: start, to: start }, { from: start + 3, to: start + 4 }, ...others];
}

/** All segments in their order; whatever stands between is left out. */
export function locateHl7(text: string): LocatedSegment[] {
  const separator = /MSH(.)/.exec(text)?.[1] ?? '|';
  const counts = new Map<string, number>();
  return [...text.matchAll(/[\P{Cc}\t]+/gu)].map(({ 0: line, index }) => {
    const name = line.slice(0, 3);
    const occurrence = (counts.get(name) ?? 0) + 1;
    counts.set(name, occurrence);
    return {
      ...{ name, occurrence, whole: { from: index, to: index + line.length } },
      fields: fieldsOf(line, index, separator),
    };
  });
}
