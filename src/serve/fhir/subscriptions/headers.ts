/**
 * `Subscription.channel.header`: lines that go with every notification, so that a subscriber knows it from
 * a forged one. They are secrets of the subscriber: a reader is shown their names, and whoever sends a
 * Subscription back as it was read keeps them.
 */
import { isFramingHeader } from '../../../outside/fetch-outside.js';

const MAX_HEADERS = 10;
const MAX_LINE = 4_096;
/** RFC 9110 §5.6.2 and §5.5: a token, and visible characters with spaces between them. */
const LINE =
  /^([!#$%&'*+.^_`|~0-9A-Za-z-]+):[ \t]*([\x21-\x7e](?:[\x20-\x7e\t]*[\x21-\x7e])?)[ \t]*$/;
/** What a reader is shown in place of a value. */
const WITHHELD = '[not shown]';
/** The payload says what is sent, and in which form. */
const OF_THE_BODY = /^(?:content-.*|accept-encoding)$/i;

interface Header {
  readonly name: string;
  readonly value: string;
}

/** What is wrong with the header of a place in the list: words that follow its name. */
export interface HeaderFault {
  readonly index: number;
  readonly words: string;
}

function split(line: string): Header | null {
  const [, name, value] = line.length <= MAX_LINE ? (LINE.exec(line) ?? []) : [];
  return name === undefined || value === undefined ? null : { name, value };
}

/** The lines as a reader is shown them. */
export function withheld(names: readonly string[]): string[] {
  return names.map((name) => `${name}: ${WITHHELD}`);
}

/** The lines as they are sent. */
export function asHeaders(lines: readonly string[]): Record<string, string> {
  return Object.fromEntries(
    lines.flatMap((line) => {
      const header = split(line);
      return header === null ? [] : [[header.name, header.value]];
    }),
  );
}

/**
 * The lines to be kept: as sent, and where a value is what readers are shown, the one kept under that name.
 *
 * @param kept lines of the Subscription as it is; none when it is new
 */
export function readHeaders(
  lines: readonly string[],
  kept: readonly string[],
): readonly string[] | HeaderFault {
  if (lines.length > MAX_HEADERS) {
    return { index: MAX_HEADERS, words: `is one too many: ${MAX_HEADERS} are taken` };
  }
  const seen = new Set<string>();
  const read: string[] = [];
  for (const [index, line] of lines.entries()) {
    const header = split(line);
    if (header === null) {
      const words = `is not “Name: value” in ASCII, at most ${MAX_LINE} characters`;
      return { index, words };
    }
    const name = header.name.toLowerCase();
    if (isFramingHeader(name) || OF_THE_BODY.test(name)) {
      return { index, words: `names ${header.name}, which the gateway itself sets` };
    }
    if (seen.has(name)) return { index, words: `names ${header.name} again` };
    seen.add(name);
    const before = kept.find((one) => split(one)?.name.toLowerCase() === name);
    if (header.value !== WITHHELD) read.push(`${header.name}: ${header.value}`);
    else if (before !== undefined) read.push(before);
    else return { index, words: 'has no value: none was kept under its name' };
  }
  return read;
}
