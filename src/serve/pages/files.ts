/** The files that browsers load, as `build.config.mjs` left them in `dist/pages`. */
import { readdirSync, readFileSync } from 'node:fs';
import { gzipSync } from 'node:zlib';
import { z } from 'zod';
import { ICON_SVG } from './icon.js';

const FOLDER = new URL('../../../dist/pages/', import.meta.url);
export const ASSETS_PATH = '/assets';
const ICON_FILE = 'icon-1.svg';
export const ICON_ADDRESS = `${ASSETS_PATH}/${ICON_FILE}`;

const FILES = z.record(
  z.string(),
  z.object({ file: z.string(), loads: z.array(z.string()), later: z.array(z.string()) }),
);

let known: z.output<typeof FILES> | undefined;

function files(): z.output<typeof FILES> {
  known ??= FILES.parse(JSON.parse(readFileSync(new URL('files.json', FOLDER), 'utf8')));
  return known;
}

/** The address of a file by the name of its entry, e.g. `desk.js`. It changes with the content. */
export function pageAddress(entry: string): string {
  const found = files()[entry];
  if (found === undefined) throw new Error(`no file of the pages is built as ${entry}`);
  return `${ASSETS_PATH}/${found.file}`;
}

/** Addresses of what a script of ours loads in its turn, so that browsers need not find out late. */
export function loadedWith(entry: string): string[] {
  return (files()[entry]?.loads ?? []).map((file) => `${ASSETS_PATH}/${file}`);
}

/** Addresses of what such a script loads when it needs it, and not before. */
export function loadedLater(entry: string): string[] {
  return (files()[entry]?.later ?? []).map((file) => `${ASSETS_PATH}/${file}`);
}

/** The text of an entry, for what is not served under its own name. */
export function readEntry(entry: string): string {
  const bytes = readPageFile(files()[entry]?.file ?? '');
  if (bytes === null) throw new Error(`no file of the pages is built as ${entry}`);
  return bytes.toString();
}

/** What is built, read once: some dozen small files. */
let contents: Map<string, Buffer> | undefined;

function readContents(): Map<string, Buffer> {
  const names = readdirSync(FOLDER).filter((name) => name !== 'files.json');
  const built = names.map((name): [string, Buffer] => [name, readFileSync(new URL(name, FOLDER))]);
  return new Map([...built, [ICON_FILE, Buffer.from(ICON_SVG)]]);
}

const compressed = new Map<string, Buffer>();

/** The same compressed by gzip (RFC 1952), which takes some milliseconds once. */
export function readCompressed(name: string): Buffer | null {
  const bytes = readPageFile(name);
  if (bytes === null) return null;
  const known = compressed.get(name) ?? gzipSync(bytes, { level: 9 });
  compressed.set(name, known);
  return known;
}

/** The bytes of a built file; null: none has this name. */
export function readPageFile(name: string): Buffer | null {
  contents ??= readContents();
  return contents.get(name) ?? null;
}
