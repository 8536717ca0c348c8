import { readFileSync } from 'node:fs';

/** A document of the project, by its path from the root. */
export function readDocument(path: string): string {
  return readFileSync(path, 'utf8');
}

/** The code blocks of a language, in order. */
export function codeBlocks(text: string, language: string): string[] {
  const fence = new RegExp(`^\`\`\`${language}\\n(.*?)^\`\`\`$`, 'gms');
  return [...text.matchAll(fence)].map(([, code = '']) => code);
}

/** The rows of the table whose head has these words, without head and rule; cells without back-ticks. */
export function tableRows(text: string, ...head: readonly string[]): string[][] {
  const cells = (line: string): string[] =>
    line
      .trim()
      .slice(1, -1)
      .split('|')
      .map((cell) => cell.trim().replaceAll('`', ''));
  const lines = text.split('\n');
  const start = lines.findIndex(
    (line) => line.startsWith('|') && head.every((word, i) => cells(line)[i] === word),
  );
  if (start === -1) throw new Error(`there is no table with the head ${head.join(', ')}`);
  const end = lines.findIndex((line, i) => i > start && !line.startsWith('|'));
  return lines.slice(start + 2, end === -1 ? undefined : end).map(cells);
}
