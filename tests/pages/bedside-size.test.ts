import { readFileSync } from 'node:fs';
import { gzipSync } from 'node:zlib';

/** What is loaded for an entry at once, and what its parts load later. */
interface Loaded {
  readonly file: string;
  readonly loads: readonly string[];
  readonly later: readonly string[];
}

const FILES = JSON.parse(readFileSync('dist/pages/files.json', 'utf8')) as Record<string, Loaded>;

/** Compressed as the slowest of the usual ways does it. */
function compressedBytes(files: readonly string[]): number {
  const bytes = [...new Set(files)].map(
    (file) => gzipSync(readFileSync(`dist/pages/${file}`), { level: 6 }).length,
  );
  return bytes.reduce((all, one) => all + one, 0);
}

const entries = ['bedside.js', 'bedside.css'].flatMap((name) => {
  const loaded = FILES[name];
  return loaded === undefined ? [] : [loaded];
});
const atOnce = entries.flatMap(({ file, loads }) => [file, ...loads]);
const later = entries.flatMap((loaded) => loaded.later);

/** At 1.6 Mbit/s, 60 kB take 0.3 s. */
describe('the size of the bedside page', () => {
  it('is at most 60 kB before it can be used', () => {
    expect(entries).toHaveLength(2);
    expect(compressedBytes(atOnce)).toBeLessThanOrEqual(60_000);
  });

  it('is at most 150 kB in all, with the rules of the gateway', () => {
    const worker = FILES['bedside-worker.js']?.file ?? '';
    expect(later.length).toBeGreaterThan(0);
    expect(compressedBytes([...atOnce, ...later, worker])).toBeLessThanOrEqual(150_000);
  });
});
