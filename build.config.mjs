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
};
/** The service worker shares no file with the page: it is what is left when the page's are gone. */
const workerEntry = 'src/browser/bedside/worker/service-worker.ts';

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
const forBrowsers = {
  outdir: 'dist/pages',
  bundle: true,
  minify: true,
  metafile: true,
  target: ['chrome120', 'firefox120', 'safari17'],
  logLevel: 'warning',
};
const { metafile } = await build({
  ...forBrowsers,
  entryPoints: Object.values(browserEntries),
  splitting: true,
  format: 'esm',
  jsx: 'automatic',
  jsxImportSource: 'preact',
  tsconfig: 'src/browser/tsconfig.json',
  entryNames: '[name]-[hash]',
  chunkNames: 'part-[hash]',
});
const { metafile: ofWorker } = await build({
  ...forBrowsers,
  entryPoints: { 'bedside-worker': workerEntry },
  entryNames: '[name]-[hash]',
  format: 'iife',
  tsconfig: 'src/browser/bedside/worker/tsconfig.json',
});

/** Every file that a file leads to, by imports of the kinds given. */
function reach(path, kinds, found = new Set()) {
  for (const { path: next, kind } of metafile.outputs[path].imports) {
    if (!kinds.includes(kind) || found.has(next)) continue;
    found.add(next);
    reach(next, kinds, found);
  }
  return found;
}

/** The file of each entry, every file that is loaded with it, and those that it loads when it needs them. */
const files = {};
for (const [name, entry] of Object.entries(browserEntries)) {
  const [path] = Object.entries(metafile.outputs).find(
    ([, { entryPoint }]) => entryPoint === entry,
  );
  const loads = reach(path, ['import-statement']);
  const later = reach(path, ['import-statement', 'dynamic-import']);
  files[name] = {
    file: basename(path),
    loads: [...loads].map((one) => basename(one)),
    later: [...later].filter((one) => !loads.has(one)).map((one) => basename(one)),
  };
}
const [workerFile] = Object.keys(ofWorker.outputs);
files['bedside-worker.js'] = { file: basename(workerFile), loads: [], later: [] };
writeFileSync('dist/pages/files.json', JSON.stringify(files, null, 2));
