/** What every part of the page can ask for. */
import { createContext } from 'preact';
import { useContext } from 'preact/hooks';
import type { Preferences } from '../senses/preferences.js';
import type { PageState } from '../session/page-state.js';
import type { Session } from '../session/surroundings.js';
import type { Say } from '../words/say.js';

export interface PageTools {
  readonly session: Session;
  readonly state: PageState;
  readonly say: Say;
  readonly preferences: Preferences;
  readonly prefer: (change: Partial<Preferences>) => void;
}

export const PageContext = createContext<PageTools | null>(null);

export function usePage(): PageTools {
  const tools = useContext(PageContext);
  if (tools === null) throw new Error('outside the page');
  return tools;
}
