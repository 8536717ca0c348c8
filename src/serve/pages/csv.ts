/** Tables for spreadsheet programs: RFC 4180, in UTF-8, and nothing in them is a formula. */
import { once } from 'node:events';
import type { Response } from 'express';

/** A text, or a number of our own; null: nothing. */
export type CsvCell = string | number | null;

export interface CsvColumn<Row> {
  readonly head: string;
  readonly cell: (row: Row) => CsvCell;
}

/**
 * What spreadsheet programs take for the beginning of a formula: the characters of OWASP ASVS 5.0, 1.2.10
 * and of the OWASP page "CSV Injection", with their full-width forms.
 */
// eslint-disable-next-line no-control-regex -- tab, line ends and NUL are among them
const FORMULA = /^[=+\-@\t\r\n\u0000\uFF1D\uFF0B\uFF0D\uFF20]/;

/** A plain number is no formula, whatever its sign. */
const NUMBER = /^-?\d+(\.\d+)?$/;

/** RFC 4180 §2.5 to 2.7: in quotes, quotes doubled. What could be a formula gets an apostrophe before it. */
function writeCell(cell: CsvCell): string {
  if (cell === null) return '';
  if (typeof cell === 'number') return String(cell);
  const text = FORMULA.test(cell) && !NUMBER.test(cell) ? `'${cell}` : cell;
  return `"${text.replaceAll('"', '""')}"`;
}

export function csvLine(cells: readonly CsvCell[]): string {
  return `${cells.map(writeCell).join(',')}\r\n`;
}

/** Tells spreadsheet programs that the bytes are UTF-8; without it many read them by a local code page. */
const BYTE_ORDER_MARK = '\uFEFF';

/**
 * Sends pages of rows as they are read, never faster than they are taken: two pages are in memory at most.
 * A page that fails cuts the answer off, so that no half table passes for a whole one.
 */
export async function sendCsv<Row>(
  res: Response,
  fileName: string,
  columns: readonly CsvColumn<Row>[],
  pages: AsyncIterable<readonly Row[]>,
): Promise<void> {
  const lines = (rows: readonly Row[]): string =>
    rows.map((row) => csvLine(columns.map(({ cell }) => cell(row)))).join('');
  let isBegun = false;
  for await (const rows of pages) {
    // Nothing is sent before the first page is there: what goes wrong until then is said in words.
    if (!isBegun) begin(res, fileName, columns);
    isBegun = true;
    if (!res.write(lines(rows))) await takenOrGone(res);
    if (res.destroyed) return;
  }
  if (!isBegun) begin(res, fileName, columns);
  res.end();
}

function begin<Row>(res: Response, fileName: string, columns: readonly CsvColumn<Row>[]): void {
  res.setHeader('Content-Type', 'text/csv; charset=utf-8; header=present');
  res.setHeader('Content-Disposition', `attachment; filename="${fileName}"`);
  res.setHeader('X-Content-Type-Options', 'nosniff');
  res.write(BYTE_ORDER_MARK + csvLine(columns.map(({ head }) => head)));
}

/** Until the client has taken what was written, or has left. */
async function takenOrGone(res: Response): Promise<void> {
  const stop = new AbortController();
  const { signal } = stop;
  try {
    await Promise.race([once(res, 'drain', { signal }), once(res, 'close', { signal })]);
  } finally {
    stop.abort();
  }
}
