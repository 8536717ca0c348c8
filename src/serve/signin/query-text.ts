import type { Request } from 'express';

/** A parameter of the address, if it is there once. */
export function queryText(req: Request, name: string): string | null {
  const value = req.query[name];
  return typeof value === 'string' ? value : null;
}
