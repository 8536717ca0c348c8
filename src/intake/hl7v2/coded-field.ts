import type { SentCode } from '../../vitals/coded-sign.js';
import type { Hl7Field, Hl7Repetition } from './segment.js';

/** Both triplets of a CE, CWE or CNE: code, name, coding system, and the same again (HL7 v2.9.1 §2A.2.14). */
export function codesOf(coded: Hl7Repetition): readonly SentCode[] {
  return [1, 4]
    .map((first) => {
      const [code, name, system] = [0, 1, 2].map((step) =>
        told(coded.component(first + step).text),
      );
      return {
        ...(system !== undefined && { system }),
        ...(code !== undefined && { code }),
        ...(name !== undefined && { name }),
      };
    })
    .filter(({ code, name }) => code !== undefined || name !== undefined);
}

function told(text: string): string | undefined {
  const trimmed = text.trim();
  return trimmed === '' || trimmed === '""' ? undefined : trimmed;
}

/** Reads the coded fields of one message, each text once. */
export function remembering<T>(read: (codes: readonly SentCode[]) => T): (field: Hl7Field) => T {
  const known = new Map<string, T>();
  return (field) => {
    const text = field.rawBytes.toString('latin1');
    let found = known.get(text);
    if (found === undefined) {
      found = read(codesOf(field.repetition(1)));
      known.set(text, found);
    }
    return found;
  };
}
