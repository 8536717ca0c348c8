import { createHash } from 'node:crypto';
import { writePairs } from './query-parameters.js';
import type { Pair } from './query-parameters.js';
import { badValue } from './refuse.js';
import { PAGE_PARAMETER } from './result-parameters.js';
import { MAX_VERSION } from './site.js';

/** Where a page begins: after this row, in the state of the site at `asOfMs` (a history needs none: 0). */
export interface PageStart {
  readonly asOfMs: number;
  /** The last row of the page before: what it was sorted by, its id, and its version in a history. */
  readonly keyMs: number;
  /** What it was sorted by in the second place. */
  readonly thenMs?: number;
  readonly id: string;
  readonly version: number;
}

const THEN_AT = 16;
const VERSION_AT = 24;
/** From here on the id, as it is. */
const ID_AT = 26;
const DIGEST_BYTES = 12;

/**
 * Ties the facts to the search that they came from. No secret: whoever makes up a page start reads
 * nothing that the same token could not search for; the digest keeps mistakes from passing for pages.
 */
function digest(facts: Buffer, search: string): Buffer {
  return createHash('sha256').update(facts).update(search).digest().subarray(0, DIGEST_BYTES);
}

/** A page start as an opaque text for an address. `search` is the path and what was applied. */
export function writePageStart(start: PageStart, search: string): string {
  const facts = Buffer.alloc(ID_AT + start.id.length);
  facts.writeBigInt64BE(BigInt(start.asOfMs), 0);
  facts.writeBigInt64BE(BigInt(start.keyMs), 8);
  facts.writeBigInt64BE(BigInt(start.thenMs ?? 0), THEN_AT);
  facts.writeUInt16BE(start.version, VERSION_AT);
  facts.write(start.id, ID_AT, 'latin1');
  return Buffer.concat([facts, digest(facts, search)]).toString('base64url');
}

function split(text: string): { facts: Buffer; tie: Buffer } {
  const bytes = Buffer.from(text, 'base64url');
  const whole = bytes.length > ID_AT + DIGEST_BYTES && bytes.toString('base64url') === text;
  if (!whole || bytes.readUInt16BE(VERSION_AT) > MAX_VERSION) throw noPage();
  return {
    facts: bytes.subarray(0, -DIGEST_BYTES),
    tie: bytes.subarray(-DIGEST_BYTES),
  };
}

function noPage(): Error {
  return badValue(PAGE_PARAMETER, 'is not a page that was given out here');
}

/**
 * The stamp that a page start names, before it is known whether it belongs to the search.
 *
 * @throws HttpError 400 when it is no page start.
 */
export function asOfOfPage(text: string): number {
  return Number(split(text).facts.readBigInt64BE(0));
}

/**
 * @param isId whether a row of the search can have an id
 * @throws HttpError 400 when the page start belongs to another search.
 */
export function readPageStart(
  text: string,
  search: string,
  isId: (text: string) => boolean,
): PageStart {
  const { facts, tie } = split(text);
  if (!digest(facts, search).equals(tie)) {
    throw badValue(PAGE_PARAMETER, 'belongs to a search with other parameters');
  }
  const id = facts.toString('latin1', ID_AT);
  if (!isId(id)) throw noPage();
  return {
    asOfMs: Number(facts.readBigInt64BE(0)),
    keyMs: Number(facts.readBigInt64BE(8)),
    thenMs: Number(facts.readBigInt64BE(THEN_AT)),
    id,
    version: facts.readUInt16BE(VERSION_AT),
  };
}

/** The links of a page. All of them can be followed by GET, whatever the search came by. */
export interface PageLinks {
  readonly self: string;
  readonly next: string | null;
}

/** @param path absolute address of what was searched */
export function pageLinks(
  path: string,
  used: readonly Pair[],
  page: string | null,
  next: PageStart | null,
): PageLinks {
  const address = (pairs: readonly Pair[]): string =>
    pairs.length === 0 ? path : `${path}?${writePairs(pairs)}`;
  return {
    self: address(page === null ? used : [...used, [PAGE_PARAMETER, page]]),
    next:
      next === null
        ? null
        : address([...used, [PAGE_PARAMETER, writePageStart(next, bindingOf(path, used))]]),
  };
}

/** What a page start is tied to. */
export function bindingOf(path: string, used: readonly Pair[]): string {
  return JSON.stringify([path, used]);
}
