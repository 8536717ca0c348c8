import type { Fault } from '../../vitals/shapes.js';
import { findJsonFault } from './find-json-fault.js';

/** Deeper than any body of the contract; keeps everything after it from running out of stack. */
const MAX_DEPTH = 32;

export type JsonRead =
  | { readonly ok: true; readonly value: unknown }
  | { readonly ok: false; readonly faults: readonly Fault[] };

const decoder = new TextDecoder('utf-8', { fatal: true });

/**
 * Reads JSON (RFC 8259) from bytes and says plainly what is wrong with it, with line and column. Takes
 * nothing on trust: not UTF-8, nested too deep, or one member twice in an object (two values for one
 * sign: parsers differ in which one they keep) is refused. Never throws.
 */
export function readJson(bytes: Buffer): JsonRead {
  const { members, depth } = survey(bytes);
  if (depth > MAX_DEPTH) return refused(`is nested deeper than ${MAX_DEPTH} levels`);
  let text: string;
  try {
    text = decoder.decode(bytes);
  } catch {
    return refused(`is not UTF-8: the first wrong byte is byte ${firstWrongByte(bytes) + 1}`);
  }
  if (text.trim() === '') return refused('is empty; a JSON document was expected');
  try {
    const value: unknown = JSON.parse(text);
    return countMembers(value) === members ? { ok: true, value } : refusedFor(text);
  } catch {
    return refusedFor(text);
  }
}

function refused(message: string): JsonRead {
  return { ok: false, faults: [{ pointer: '', message: `the body ${message}` }] };
}

function refusedFor(text: string): JsonRead {
  return { ok: false, faults: [findJsonFault(text)] };
}

const QUOTE = 0x22;
const BACKSLASH = 0x5c;
const COLON = 0x3a;

/**
 * Counts, outside of texts, colons (one for each member) and levels of nesting. Fewer members in the
 * parsed value than colons in the bytes means that one name stood twice: found this way for about a
 * microsecond a kilobyte.
 */
function survey(bytes: Uint8Array): { members: number; depth: number } {
  let members = 0;
  let level = 0;
  let depth = 0;
  let inText = false;
  for (let i = 0; i < bytes.length; i += 1) {
    const byte = bytes[i];
    if (byte === QUOTE) inText = !inText;
    else if (inText) {
      if (byte === BACKSLASH) i += 1;
    } else if (byte === COLON) members += 1;
    else if (byte === 0x7b || byte === 0x5b) {
      level += 1;
      if (level > depth) depth = level;
    } else if (byte === 0x7d || byte === 0x5d) level -= 1;
  }
  return { members, depth };
}

function countMembers(value: unknown): number {
  if (typeof value !== 'object' || value === null) return 0;
  const children: unknown[] = Object.values(value);
  let members = Array.isArray(value) ? 0 : children.length;
  for (const child of children) members += countMembers(child);
  return members;
}

/** Where the bytes stop being UTF-8: the longest prefix that still decodes, found by halving. */
function firstWrongByte(bytes: Buffer): number {
  let sound = 0;
  let broken = bytes.length;
  while (broken - sound > 1) {
    const middle = Math.floor((sound + broken) / 2);
    if (startsSound(bytes.subarray(0, middle))) sound = middle;
    else broken = middle;
  }
  return sound;
}

/** Whether the bytes are UTF-8 as far as they go; a character cut off at the end is no fault. */
function startsSound(bytes: Buffer): boolean {
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(bytes, { stream: true });
    return true;
  } catch {
    return false;
  }
}
