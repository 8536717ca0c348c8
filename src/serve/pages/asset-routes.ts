import { extname } from 'node:path';
import { HttpError } from '../http/http-error.js';
import { pathParameter } from '../http/route.js';
import type { Area } from '../http/route.js';
import { ASSETS_PATH, readCompressed, readPageFile } from './files.js';

const TYPES: Readonly<Record<string, string>> = {
  '.css': 'text/css; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.svg': 'image/svg+xml',
};

/** Scripts and styles of the pages. Their names change with their content, so browsers keep them. */
export const assetsArea: Area = {
  name: 'assets',
  description: 'Scripts and styles of the pages',
  prefix: ASSETS_PATH,
  errorStyle: 'page',
  routes: [
    {
      method: 'get',
      path: `${ASSETS_PATH}/:file`,
      scopes: 'public',
      summary: 'A script or style of the pages',
      responses: { 200: { description: 'The file.' }, 404: { description: 'There is none.' } },
      handler(req, res) {
        const name = pathParameter(req, 'file');
        const gzip = req.acceptsEncodings('gzip') === 'gzip';
        const bytes = gzip ? readCompressed(name) : readPageFile(name);
        if (bytes === null) throw new HttpError({ status: 404, detail: 'There is no such file.' });
        res.setHeader('Content-Type', TYPES[extname(name)] ?? 'application/octet-stream');
        res.setHeader('Vary', 'Accept-Encoding');
        if (gzip) res.setHeader('Content-Encoding', 'gzip');
        res.setHeader('Cache-Control', 'public, max-age=31536000, immutable');
        res.end(bytes);
      },
    },
  ],
};
