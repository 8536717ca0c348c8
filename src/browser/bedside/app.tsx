import type { JSX } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import { Notices } from './parts/notices.js';
import { PageContext } from './parts/page-context.js';
import { TopBar } from './parts/top-bar.js';
import { holdPage } from './senses/hold-page.js';
import { keepPreferences, readPreferences, type Preferences } from './senses/preferences.js';
import { enter, leaveForElsewhere, type OpenSession } from './session/open-session.js';
import type { PageState } from './session/page-state.js';
import { ShownView } from './views/shown-view.js';
import { SignList } from './views/sign-list.js';
import { sayIn } from './words/say.js';

/** The whole page: whose set it is on top, one view below, the signs beside it where there is room. */
export function App({ session }: { session: OpenSession }): JSX.Element {
  const state = useStore(session);
  const [preferences, prefer] = usePreferences();
  const takePage = usePageAlone(session);
  const say = sayIn(preferences.language);
  const { view } = state;
  const beside = state.form !== null && ['signs', 'step'].includes(view.name);
  return (
    <PageContext.Provider value={{ session, state, say, preferences, prefer }}>
      {view.name !== 'count' && <TopBar />}
      {view.name !== 'count' && <Notices />}
      <div class="page">
        {beside && (
          <nav class="beside only-wide" aria-label={say('signs.title')}>
            <SignList />
          </nav>
        )}
        <main>
          <ShownView view={view} onTakeOver={takePage} />
        </main>
      </div>
    </PageContext.Provider>
  );
}

function useStore({ store }: OpenSession): PageState {
  const [state, setState] = useState(store.get());
  useEffect(
    () =>
      store.listen(() => {
        setState(store.get());
      }),
    [store],
  );
  return state;
}

function usePreferences(): [Preferences, (change: Partial<Preferences>) => void] {
  const [preferences, setPreferences] = useState<Preferences>(readPreferences);
  useEffect(() => {
    document.documentElement.lang = preferences.language;
  }, [preferences.language]);
  const prefer = (change: Partial<Preferences>): void => {
    const next = { ...preferences, ...change };
    setPreferences(next);
    keepPreferences(next);
  };
  return [preferences, prefer];
}

/** Enters as soon as no other tab is at work; the answer takes over from another one. */
function usePageAlone(session: OpenSession): () => void {
  const ask = (steal: boolean): void => {
    const away = (): void => {
      leaveForElsewhere(session);
    };
    void holdPage(steal, away).then((ours) => {
      if (ours) void enter(session);
      else away();
    });
  };
  useEffect(() => {
    ask(false);
    const save = (): void => {
      if (document.visibilityState === 'hidden') session.saveNow();
    };
    document.addEventListener('visibilitychange', save);
    return () => {
      document.removeEventListener('visibilitychange', save);
    };
  }, []);
  return () => {
    ask(true);
  };
}
