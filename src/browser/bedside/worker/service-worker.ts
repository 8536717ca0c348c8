/**
 * Serves the bedside page when there is no network: its document and its scripts and styles, and nothing
 * else. What it keeps is named by the gateway in the first line of this file's address; a request for
 * anything else is not touched, so that no answer with a patient in it can ever be kept.
 */
import { TAKE_OVER } from './worker-words.js';

/** What the gateway sets before this program. */
interface Kept {
  /** Changes with any of the files. */
  readonly version: string;
  /** The document. */
  readonly page: string;
  readonly files: readonly string[];
}

const worker = self as unknown as ServiceWorkerGlobalScope & { readonly KEPT: Kept };
const CACHE_PREFIX = 'bedside-';
const { version, page, files } = worker.KEPT;
const CACHE = `${CACHE_PREFIX}${version}`;

async function install(): Promise<void> {
  const cache = await caches.open(CACHE);
  // All or nothing: a page without one of its scripts would be worse than the old page.
  await cache.addAll([page, ...files].map((path) => new Request(path, { cache: 'no-cache' })));
}

async function removeOldCaches(): Promise<void> {
  const names = await caches.keys();
  const old = names.filter((name) => name.startsWith(CACHE_PREFIX) && name !== CACHE);
  await Promise.all(old.map((name) => caches.delete(name)));
}

/** Another tab may be in the middle of a set, with scripts of the old page still to load. */
async function takeOver(): Promise<void> {
  const tabs = await worker.clients.matchAll({ type: 'window', includeUncontrolled: true });
  const pages = tabs.filter(({ url }) => new URL(url).pathname === page);
  if (pages.length <= 1) await worker.skipWaiting();
}

async function fromCache(path: string, request: Request): Promise<Response> {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(path);
  return kept ?? fetch(request);
}

worker.addEventListener('install', (event) => {
  event.waitUntil(install());
});

worker.addEventListener('activate', (event) => {
  event.waitUntil(removeOldCaches().then(() => worker.clients.claim()));
});

worker.addEventListener('message', (event) => {
  if (event.data === TAKE_OVER) event.waitUntil(takeOver());
});

worker.addEventListener('fetch', (event) => {
  const { method, url } = event.request;
  const { origin, pathname } = new URL(url);
  if (method !== 'GET' || origin !== worker.location.origin) return;
  if (pathname !== page && !files.includes(pathname)) return;
  event.respondWith(fromCache(pathname, event.request));
});
