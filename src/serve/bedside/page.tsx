/**
 * The document of the bedside page: the same for everybody and without a word about anybody, so that the
 * service worker may keep it. Who is there and whose set it is, its scripts ask.
 */
import { createHash } from 'node:crypto';
import { renderToString } from 'preact-render-to-string';
import { ICON_ADDRESS, loadedLater, loadedWith, pageAddress, readEntry } from '../pages/files.js';

export const PAGE_PATH = '/bedside';
export const WORKER_PATH = '/bedside/worker.js';
export const MANIFEST_PATH = '/bedside/manifest.webmanifest';

/** As that of the desk, with what the camera, the service worker and the manifest need. */
export const CONTENT_SECURITY_POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' blob:",
  "connect-src 'self'",
  "worker-src 'self'",
  "manifest-src 'self'",
  "form-action 'self'",
  "base-uri 'none'",
  "frame-ancestors 'none'",
].join('; ');

const NAME = 'Bedside';

function BedsideDocument() {
  return (
    <html lang="en">
      <head>
        <meta charset="utf-8" />
        <title>{NAME}</title>
        <meta name="viewport" content="width=device-width, initial-scale=1" />
        <meta name="color-scheme" content="light dark" />
        <link rel="icon" href={ICON_ADDRESS} type="image/svg+xml" />
        <link rel="manifest" href={MANIFEST_PATH} />
        <link rel="stylesheet" href={pageAddress('bedside.css')} />
        {loadedWith('bedside.js').map((href) => (
          <link key={href} rel="modulepreload" href={href} />
        ))}
        <script type="module" src={pageAddress('bedside.js')} />
      </head>
      <body>
        <div id="bedside">
          <noscript>This page needs JavaScript.</noscript>
        </div>
      </body>
    </html>
  );
}

export function bedsideDocument(): string {
  return `<!doctype html>${renderToString(<BedsideDocument />)}`;
}

/** Opened from a tablet's home screen it stands alone, without the browser's bars. */
export function bedsideManifest(): object {
  return {
    name: 'Vital signs at the bedside',
    short_name: NAME,
    start_url: PAGE_PATH,
    scope: PAGE_PATH,
    display: 'standalone',
    icons: [{ src: ICON_ADDRESS, type: 'image/svg+xml', sizes: 'any' }],
  };
}

/**
 * The service worker: what it keeps, by name, and then its program. Whenever any of the files changes, so
 * does this text, and browsers take the next worker.
 */
export function bedsideWorker(): string {
  const files = ['bedside.js', 'bedside.css'].flatMap((entry) => [
    pageAddress(entry),
    ...loadedWith(entry),
    ...loadedLater(entry),
  ]);
  const kept = { page: PAGE_PATH, files: [...new Set([...files, ICON_ADDRESS, MANIFEST_PATH])] };
  const program = readEntry('bedside-worker.js');
  const version = createHash('sha256')
    .update(JSON.stringify(kept) + bedsideDocument() + JSON.stringify(bedsideManifest()) + program)
    .digest('base64url')
    .slice(0, 16);
  return `self.KEPT = ${JSON.stringify({ version, ...kept })};\n${program}`;
}
