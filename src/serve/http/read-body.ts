import express, {
  type NextFunction,
  type Request,
  type RequestHandler,
  type Response,
} from 'express';
import type { BodySpec } from './route.js';
import { HttpError } from './http-error.js';

const DEFAULT_MAX_BYTES = 256 * 1024;

/** The media type that the request states for its body: lower case, without parameters; '' for none. */
export function mediaTypeOf(req: Request): string {
  const [type] = (req.headers['content-type'] ?? '').split(';', 1);
  return (type ?? '').trim().toLowerCase();
}

/** The bytes of the body as they arrived; none when the request had no body. */
export function bodyOf(req: Request): Buffer {
  return Buffer.isBuffer(req.body) ? req.body : Buffer.alloc(0);
}

/** A body over its bound. */
export function tooLarge(maxBytes: number): HttpError {
  return new HttpError({ status: 413, detail: `The body is larger than ${maxBytes / 1024} KiB.` });
}

function hasBody(req: Request): boolean {
  return (
    req.headers['transfer-encoding'] !== undefined ||
    Number(req.headers['content-length'] ?? '0') > 0
  );
}

/** Refuses what would have to be decoded before it can be kept as it arrived. */
function checkHeaders(req: Request, spec: BodySpec): void {
  const type = mediaTypeOf(req);
  const taken = Object.keys(spec.content);
  if (!taken.includes(type)) {
    throw new HttpError({
      status: 415,
      detail: `The body must be ${taken.join(' or ')}; Content-Type says ${type === '' ? 'nothing' : 'something else'}.`,
    });
  }
  const encoding = req.headers['content-encoding'] ?? 'identity';
  if (encoding.toLowerCase() !== 'identity') {
    throw new HttpError({ status: 415, detail: 'The body must not be compressed.' });
  }
  const [, charset] =
    /;\s*charset\s*=\s*"?([^";\s]+)/i.exec(req.headers['content-type'] ?? '') ?? [];
  if (charset !== undefined && !/^(utf-?8|us-ascii)$/i.test(charset)) {
    throw new HttpError({ status: 415, detail: 'The body must be in UTF-8.' });
  }
}

/** Checks the headers of the body and has its bytes ready for {@link bodyOf}, unless it is streamed. */
export function readBody(spec: BodySpec): RequestHandler {
  const maxBytes = spec.maxBytes ?? DEFAULT_MAX_BYTES;
  const readWhole: RequestHandler = express.raw({
    type: () => true,
    limit: maxBytes,
    inflate: false,
  });
  return (req: Request, res: Response, next: NextFunction): void => {
    if (spec.optional === true && !hasBody(req)) {
      next();
      return;
    }
    checkHeaders(req, spec);
    if (spec.content[mediaTypeOf(req)]?.streamed === true) {
      next();
      return;
    }
    // Known from its header, so that nobody waits for the rest of it to arrive.
    if (Number(req.headers['content-length'] ?? '0') > maxBytes) throw tooLarge(maxBytes);
    readWhole(req, res, next);
  };
}
