/**
 * Builds `dist/`: the gateway file by file, and what browsers load in bundles whose names change with
 * their content. `dist/pages/files.json` tells which file stands for which entry.
 */
import { mkdirSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { basename, join, sep } from 'node:path';
import { build } from 'esbuild';

/** What browsers load first, by the name that pages ask for. */
const browserEntries = {
  'desk.js': 'src/browser/desk/main.ts',
  'desk.css': 'src/browser/desk/desk.css',
  'bedside.js': 'src/browser/bedside/main.tsx',
  'bedside.css': 'src/browser/bedside/bedside.css',
  'bedside-worker.js': 'src/browser/bedside/service-worker.ts',
};

const sources = readdirSync('src', { recursive: true })
  .map((name) => join('src', name))
  .filter((name) => /\.tsx?$/.test(name) && !name.startsWith(join('src', 'browser') + sep));

await build({
  entryPoints: sources,
  outbase: 'src',
  outdir: 'dist',
  format: 'esm',
  platform: 'node',
  target: 'node20',
  jsx: 'automatic',
  jsxImportSource: 'preact',
  sourcemap: true,
  logLevel: 'warning',
});

rmSync('dist/pages', { recursive: true, force: true });
mkdirSync('dist/pages', { recursive: true });
const { metafile } = await build({
  entryPoints: Object.values(browserEntries),
  outdir: 'dist/pages',
  bundle: true,
  splitting: true,
  minify: true,
  metafile: true,
  format: 'esm',
  target: ['chrome120', 'firefox120', 'safari17'],
  jsx: 'automatic',
  jsxImportSource: 'preact',
  tsconfig: 'src/browser/tsconfig.json',
  entryNames: '[name]-[hash]',
  chunkNames: 'part-[hash]',
  logLevel: 'warning',
});

/** The file of each entry, and every file that is loaded with it. */
const files = {};
for (const [name, entry] of Object.entries(browserEntries)) {
  const [path, output] = Object.entries(metafile.outputs).find(
    ([, { entryPoint }]) => entryPoint === entry,
  );
  const loaded = output.imports.filter(({ kind }) => kind === 'import-statement');
  files[name] = { file: basename(path), loads: loaded.map((one) => basename(one.path)) };
}
writeFileSync('dist/pages/files.json', JSON.stringify(files, null, 2));
