import type { OpenApiDocument } from '../operations/openapi-document.js';
import type { Route } from '../http/route.js';
import { renderPage } from './page.js';
import { CONTENT_SECURITY_POLICY } from './style.js';

/** `GET /docs`: the document for people. Rendered at first need; it changes with the program only. */
export function docsRoute(document: () => OpenApiDocument): Route {
  let page: Buffer | undefined;
  return {
    method: 'get',
    path: '/docs',
    scopes: 'public',
    summary: 'This document as a page for people',
    responses: {
      200: {
        description: 'The page.',
        content: { 'text/html': { schema: { type: 'string' } } },
      },
    },
    handler: (_req, res) => {
      page ??= Buffer.from(renderPage(document()));
      res.setHeader('Content-Type', 'text/html; charset=utf-8');
      res.setHeader('Content-Security-Policy', CONTENT_SECURITY_POLICY);
      res.setHeader('Cache-Control', 'no-cache');
      res.setHeader('Content-Length', page.length);
      res.end(page);
    },
  };
}
