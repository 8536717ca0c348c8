import type { Request } from 'express';

/** Whether the answer is to be read by a person: browsers say so when a page is opened, scripts do not. */
export function wantsPage(req: Request): boolean {
  return (req.headers.accept ?? '').includes('text/html');
}
