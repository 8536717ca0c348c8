/** The files of the bedside page whose addresses stay the same: browsers ask for them anew each time. */
import type { Request, Response } from 'express';
import type { Route } from '../http/route.js';
import {
  bedsideDocument,
  bedsideManifest,
  bedsideWorker,
  CONTENT_SECURITY_POLICY,
  MANIFEST_PATH,
  PAGE_PATH,
  WORKER_PATH,
} from './page.js';

/** Made once: nothing of it changes while the process runs. */
function once(make: () => string): () => string {
  let made: string | undefined;
  return () => (made ??= make());
}

function send(res: Response, type: string, text: string): void {
  res.setHeader('Content-Type', type);
  res.setHeader('Cache-Control', 'no-cache');
  res.setHeader('Content-Security-Policy', CONTENT_SECURITY_POLICY);
  res.end(text);
}

function fileRoute(
  path: string,
  summary: string,
  type: string,
  text: () => string,
  headers: Readonly<Record<string, string>> = {},
): Route {
  return {
    ...{ method: 'get', path, scopes: 'public', summary },
    responses: { 200: { description: 'The file.' } },
    handler(_req: Request, res: Response) {
      for (const [name, value] of Object.entries(headers)) res.setHeader(name, value);
      send(res, type, text());
    },
  };
}

export function pageRoutes(): Route[] {
  const manifest = (): string => JSON.stringify(bedsideManifest());
  return [
    fileRoute(PAGE_PATH, 'The bedside page', 'text/html; charset=utf-8', once(bedsideDocument), {
      'Permissions-Policy': 'camera=(self)',
    }),
    fileRoute(
      WORKER_PATH,
      'Its service worker',
      'text/javascript; charset=utf-8',
      once(bedsideWorker),
      {
        // The worker lies below the page that it serves.
        'Service-Worker-Allowed': PAGE_PATH,
      },
    ),
    fileRoute(MANIFEST_PATH, 'Its manifest', 'application/manifest+json', once(manifest)),
  ];
}
