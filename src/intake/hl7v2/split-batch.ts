import type { Hl7Fault } from './fault.js';
import { leadLength } from './parse-message.js';
import { readSeparators } from './separators.js';

/** The messages in what one frame held. */
export interface SplitBatch {
  /** Each to be read and acknowledged on its own. Bytes outside of any message come as one, too. */
  readonly messages: readonly Uint8Array[];
  readonly warnings: readonly Hl7Fault[];
}

/** More than a frame of ordinary messages can hold; each one costs an answer. */
const MAX_MESSAGES = 1000;
const MAX_WARNINGS = 50;

/**
 * Takes the batch protocol apart (HL7 v2.9.1 §2.9.3): `[FHS] { [BHS] { MSH … } [BTS] } [FTS]`. As FHS
 * and BHS are optional, several messages one after the other are a batch, too; they never run
 * together. Counts in BTS-1 and FTS-1 are compared: a difference is a warning, as every message that
 * came is good in itself. What lies beyond the 1000th message stays one piece, which is refused as
 * holding two headers.
 */
export function splitBatch(bytes: Uint8Array): SplitBatch {
  const text = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.length).toString('latin1');
  const marks = findMarks(text);
  if (marks[0]?.at !== leadLength(bytes)) return { messages: [bytes], warnings: [] };
  const messages: Uint8Array[] = [];
  const tally = new Tally();
  marks.forEach((mark, index) => {
    const { id, at } = mark;
    const end = marks[index + 1]?.at ?? text.length;
    const from = id === 'MSH' ? at : outsideFrom(text.slice(at, end), at);
    if (from !== null) messages.push(bytes.subarray(from, end));
    tally.count(mark);
  });
  return { messages, warnings: tally.warnings };
}

type MarkId = 'MSH' | 'FHS' | 'BHS' | 'BTS' | 'FTS';

/** Where a message begins, or what holds messages together. */
interface Mark {
  readonly id: MarkId;
  readonly at: number;
  readonly line: string;
}

const MARK = /(?:^(?:\xef\xbb\xbf)?|[\r\n])(?=((MSH|FHS|BHS|BTS|FTS)(?![A-Za-z0-9])[^\r\n]*))/g;

function findMarks(text: string): readonly Mark[] {
  const marks: Mark[] = [];
  let messages = 0;
  for (const match of text.matchAll(MARK)) {
    const [skipped, line = '', name] = match;
    const id = name as MarkId;
    const field = marks[0]?.line.charAt(3) ?? line.charAt(3);
    // A line of a text can begin with these letters as well.
    const separated = line.charAt(3) === field || readSeparators(line) !== null;
    if (!separated && !(line.length === 3 && TRAILERS.has(id))) continue;
    if (id === 'MSH') messages += 1;
    marks.push({ id, at: match.index + skipped.length, line });
    if (messages > MAX_MESSAGES) break;
  }
  return marks;
}

const TRAILERS: ReadonlySet<MarkId> = new Set(['BTS', 'FTS']);

/** Where segments stand that belong to no message; access restrictions of the batch (ARV) may stand there. */
function outsideFrom(chunk: string, at: number): number | null {
  const stray = /[\r\n](?!ARV|[\r\n]|$)/.exec(chunk);
  return stray === null ? null : at + stray.index + 1;
}

/** Counts messages and batches, and compares with what the trailers say. */
class Tally {
  readonly warnings: Hl7Fault[] = [];
  readonly #counts = { MSH: 0, FHS: 0, BHS: 0, BTS: 0, FTS: 0 };

  count({ id, line }: Mark): void {
    this.#counts[id] += 1;
    if (id === 'BTS') {
      this.#compare(id, line, this.#counts.MSH, 'messages');
      this.#counts.MSH = 0;
    } else if (id === 'FTS') this.#compare(id, line, this.#counts.BHS, 'batches');
  }

  #compare(segment: 'BTS' | 'FTS', line: string, found: number, what: string): void {
    const [told = ''] = line.slice(4).split(line.charAt(3));
    if (told.trim() === '' || Number(told) === found) return;
    if (this.warnings.length === MAX_WARNINGS) return;
    this.warnings.push({
      location: { segment, occurrence: this.#counts[segment], field: 1 },
      code: '199',
      severity: 'W',
      text: `${found} ${what} came; the trailer counts another number`,
    });
  }
}
