/** What was sent as pieces of text that does nothing: marked where something was read, and bounded. */
import { picture } from '../submissions/inert-text.js';
import type { Trace } from './trace-reading.js';

/** So much is shown about the marked places of a long message. */
const MOST_CHARACTERS = 16_384;

/** A run of text; `trace` says what was read from it. */
export interface Piece {
  readonly text: string;
  readonly trace: Trace | null;
}

/** The bytes as text; null: they are none. */
export function readText(bytes: Buffer): string | null {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    return null;
  }
}

export interface ShownText {
  readonly pieces: readonly Piece[];
  /** Characters left out before and after. */
  readonly before: number;
  readonly after: number;
}

/** Cuts a text into marked and other pieces; of a long one the stretch about the first mark. */
export function showText(text: string, traces: readonly Trace[]): ShownText {
  const [first] = traces;
  const isLong = text.length > MOST_CHARACTERS;
  const start = isLong ? Math.max(0, (first?.stretch.from ?? 0) - MOST_CHARACTERS / 4) : 0;
  const end = isLong ? Math.min(text.length, start + MOST_CHARACTERS) : text.length;
  const pieces: Piece[] = [];
  let at = start;
  for (const trace of traces) {
    const { from, to } = trace.stretch;
    if (from < at || to > end) continue;
    if (from > at) pieces.push({ text: picture(text.slice(at, from)), trace: null });
    pieces.push({ text: picture(text.slice(from, to)), trace });
    at = to;
  }
  if (at < end) pieces.push({ text: picture(text.slice(at, end)), trace: null });
  return { pieces, before: start, after: text.length - end };
}
