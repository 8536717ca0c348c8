/**
 * Quoting: RFC 4180 §2.5 to 2.7. What begins a formula: OWASP ASVS 5.0, 1.2.10 (= + - @, tab, NUL), and the
 * OWASP page "CSV Injection", which adds line ends and the full-width forms of the signs.
 */
import fc from 'fast-check';
import { csvLine } from '../../../src/serve/pages/csv.js';

/** A reader of RFC 4180, written for the tests alone. */
function readLine(line: string): string[] {
  const cells: string[] = [];
  let at = 0;
  while (at < line.length) {
    let cell = '';
    if (line[at] === '"') {
      for (at += 1; line[at] !== '"' || line[at + 1] === '"'; at += 1) {
        if (line[at] === '"') at += 1;
        cell += line[at] ?? '';
      }
      at += 1;
    } else {
      while (line[at] !== ',' && line[at] !== '\r') {
        cell += line[at] ?? '';
        at += 1;
      }
    }
    cells.push(cell);
    at += line.startsWith('\r\n', at) ? 2 : 1;
  }
  return cells;
}

describe('a line of a table', () => {
  it.each([
    ['=1+1', "'=1+1"],
    ['+1', "'+1"],
    ['-2+3', "'-2+3"],
    ['@SUM(1)', "'@SUM(1)"],
    ['\t=1', "'\t=1"],
    ['\r=1', "'\r=1"],
    ['\n=1', "'\n=1"],
    ['\u0000=1', "'\u0000=1"],
    ['＝1', "'＝1"],
    ['＋1', "'＋1"],
    ['－1', "'－1"],
    ['＠x', "'＠x"],
    ['-12.5', '-12.5'],
    ['36.50', '36.50'],
    ['a=1', 'a=1'],
    ["'=1", "'=1"],
  ])('gives %j back as %j', (text, read) => {
    expect(readLine(csvLine([text]))).toEqual([read]);
  });

  it('gives every text back, but for the apostrophe, and never one that is a formula', () => {
    fc.assert(
      fc.property(fc.array(fc.string({ unit: 'binary' }), { minLength: 1 }), (texts) => {
        const cells = readLine(csvLine(texts));
        expect(cells).toHaveLength(texts.length);
        cells.forEach((cell, index) => {
          const text = texts[index] ?? '';
          expect([text, `'${text}`]).toContain(cell);
          expect(cell).not.toMatch(/^[=+@\t\r\n\0＝＋－＠]/);
          if (cell.startsWith('-')) expect(Number(cell)).not.toBeNaN();
        });
      }),
    );
  });

  it('leaves nothing where there is nothing, and numbers as they are', () => {
    expect(csvLine([null, 5, -1.25, ''])).toBe(',5,-1.25,""\r\n');
  });
});
