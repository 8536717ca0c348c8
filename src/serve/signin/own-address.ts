/** Where somebody goes after sign-in: a page of ours and nothing else. */
import { hasScope } from '../auth/scopes.js';
import { DESK_PAGES, mayOpen } from '../pages/navigation.js';

const PREFIXES = ['/desk', '/bedside'];
const MAX_CHARACTERS = 2_000;
/** Any base will do: it shows whether an address leads away from it. */
const BASE = 'http://pages.invalid';

/** The address as a path of our pages; null: it is none, or leads elsewhere. */
export function ownAddress(text: string | null): string | null {
  if (text === null || text.length > MAX_CHARACTERS || !URL.canParse(text, BASE)) return null;
  const { origin, pathname, search } = new URL(text, BASE);
  const isOurs = PREFIXES.some(
    (prefix) => pathname === prefix || pathname.startsWith(`${prefix}/`),
  );
  // What is sent is the parsed path, so that a browser cannot read the text in another way.
  return origin === BASE && isOurs ? `${pathname}${search}` : null;
}

/** The page that people of these scopes work with. */
export function homeOf(scopes: readonly string[]): string {
  const page = DESK_PAGES.find((one) => mayOpen(one, scopes));
  if (page !== undefined) return page.href;
  return hasScope(scopes, 'bedside') ? '/bedside' : '/desk';
}
