/** A line of a streamed body, or why it cannot be taken. */
export type Line =
  | { readonly kind: 'line'; readonly bytes: Buffer }
  | { readonly kind: 'line-too-long' }
  /** The last one: nothing after the limit is read. */
  | { readonly kind: 'body-too-long' };

export interface LineLimits {
  readonly maxLineBytes: number;
  readonly maxBodyBytes: number;
}

const NEWLINE = 0x0a;
const CARRIAGE_RETURN = 0x0d;

/** Collects the bytes of one line, and no more of them than a line may have. */
class LineBuffer {
  private chunks: Buffer[] = [];
  private length = 0;
  private readonly maxBytes: number;

  constructor(maxBytes: number) {
    this.maxBytes = maxBytes;
  }

  add(chunk: Buffer): void {
    this.length += chunk.length;
    // One byte more than allowed may be the carriage return.
    if (this.length <= this.maxBytes + 1) this.chunks.push(chunk);
    else this.chunks = [];
  }

  /** The line so far, without its carriage return; null when it is blank. Starts the next one. */
  take(): Line | null {
    const bytes = this.chunks.length === 1 ? this.chunks[0] : Buffer.concat(this.chunks);
    const tooLong = this.length > this.maxBytes + 1;
    this.chunks = [];
    this.length = 0;
    if (tooLong || bytes === undefined) return { kind: 'line-too-long' };
    const line = bytes.at(-1) === CARRIAGE_RETURN ? bytes.subarray(0, -1) : bytes;
    if (line.length > this.maxBytes) return { kind: 'line-too-long' };
    return isBlank(line) ? null : { kind: 'line', bytes: line };
  }
}

/** JSON's white space alone (RFC 8259 §2). */
function isBlank(line: Buffer): boolean {
  return line.every((byte) => byte === 0x20 || byte === 0x09 || byte === CARRIAGE_RETURN);
}

/**
 * Splits a body into lines as it arrives, holding one line at a time. Blank lines are left out. A line
 * that is too long is told once and skipped; a body that is too long is told and ends the lines.
 */
export async function* splitLines(
  body: AsyncIterable<Buffer>,
  { maxLineBytes, maxBodyBytes }: LineLimits,
): AsyncGenerator<Line> {
  const current = new LineBuffer(maxLineBytes);
  let bodyBytes = 0;
  for await (const chunk of body) {
    bodyBytes += chunk.length;
    if (bodyBytes > maxBodyBytes) {
      yield { kind: 'body-too-long' };
      return;
    }
    let start = 0;
    for (;;) {
      const end = chunk.indexOf(NEWLINE, start);
      if (end < 0) break;
      current.add(chunk.subarray(start, end));
      const line = current.take();
      if (line !== null) yield line;
      start = end + 1;
    }
    if (start < chunk.length) current.add(chunk.subarray(start));
  }
  const last = current.take();
  if (last !== null) yield last;
}
