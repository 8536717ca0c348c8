import { Readable } from 'node:stream';
import type { Response } from 'express';
import { sendCsv } from '../../pages/csv.js';
import type { CsvCell } from '../../pages/csv.js';

/** Figures for a spreadsheet: heads and rows of the same length. */
export interface FiguresTable {
  readonly head: readonly string[];
  readonly rows: readonly (readonly CsvCell[])[];
}

export function sendFigures(
  res: Response,
  fileName: string,
  { head, rows }: FiguresTable,
): Promise<void> {
  const columns = head.map((name, at) => ({
    head: name,
    cell: (row: readonly CsvCell[]) => row[at] ?? null,
  }));
  return sendCsv(res, fileName, columns, Readable.from([rows]));
}

/** As much as a figure is good for, and nothing where there is none. */
export function cellOf(value: number): number | null {
  return Number.isFinite(value) ? Number(value.toPrecision(6)) : null;
}
