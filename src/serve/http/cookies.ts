/** Cookies (RFC 6265): read from a request, written to an answer. */
import type { Request, Response } from 'express';

/** How the cookies of this site are named and sent. */
export interface CookieJar {
  /** The value of a cookie as the browser sent it; null: it sent none, or several of that name. */
  read(req: Request, name: string): string | null;
  /** @param maxAgeSeconds absent: until the browser is closed */
  write(res: Response, name: string, value: string, maxAgeSeconds?: number): void;
  clear(res: Response, name: string): void;
}

/**
 * @param secure the site is reached by https: then the prefix `__Host-` has browsers refuse a cookie of
 *   that name from any other host, however near (RFC 6265bis §4.1.3.2)
 */
export function createCookieJar(secure: boolean): CookieJar {
  const prefix = secure ? '__Host-' : '';
  const attributes = `; Path=/; HttpOnly; SameSite=Lax${secure ? '; Secure' : ''}`;
  const write: CookieJar['write'] = (res, name, value, maxAgeSeconds) => {
    const age = maxAgeSeconds === undefined ? '' : `; Max-Age=${maxAgeSeconds}`;
    res.append('Set-Cookie', `${prefix}${name}=${value}${attributes}${age}`);
  };
  return {
    read(req, name) {
      const pairs = (req.headers.cookie ?? '').split(';').map((pair) => pair.trim());
      const start = `${prefix}${name}=`;
      const [value, ...others] = pairs.filter((pair) => pair.startsWith(start));
      return value === undefined || others.length > 0 ? null : value.slice(start.length);
    },
    write,
    clear: (res, name) => {
      write(res, name, '', 0);
    },
  };
}
