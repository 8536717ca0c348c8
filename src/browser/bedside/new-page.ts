/** Keeps the page at hand for the time without a network, and tells of a newer one. */
import type { Door } from './door.js';
import { Listeners } from './listeners.js';
import { TAKE_OVER, WORKER_PATH, WORKER_SCOPE } from './worker/worker-words.js';

/** So long the network is the page's own: it is used first, and kept afterwards. */
const SETTLED_AFTER_MS = 2_000;
/** A page that stays open for days asks now and then. */
const ASK_EVERY_MS = 60 * 60 * 1000;

/**
 * Registers the service worker once the page has settled, and resolves its news: a new page waits until
 * it is taken, so that nothing changes under a set that is being entered.
 */
export function watchForNewPage(): Door['onNewPage'] {
  const ready = new Listeners<[() => void]>();
  let waiting: ServiceWorker | null = null;

  function tell(worker: ServiceWorker): void {
    waiting = worker;
    ready.tell(take);
  }

  function take(): void {
    navigator.serviceWorker.addEventListener('controllerchange', () => {
      location.reload();
    });
    waiting?.postMessage(TAKE_OVER);
  }

  async function register(): Promise<void> {
    const registration = await navigator.serviceWorker.register(WORKER_PATH, {
      scope: WORKER_SCOPE,
      updateViaCache: 'none',
    });
    const look = (): void => {
      const { installing, waiting: next } = registration;
      // The first worker of all brings nothing new.
      if (navigator.serviceWorker.controller === null) return;
      if (next !== null) tell(next);
      installing?.addEventListener('statechange', look);
    };
    look();
    registration.addEventListener('updatefound', look);
    setInterval(() => void registration.update().catch(() => undefined), ASK_EVERY_MS);
  }

  // Absent where the page came by plain http from another machine.
  if ('serviceWorker' in navigator) {
    setTimeout(() => {
      register().catch(() => {
        // Without it the page needs a network to be opened; what is open works on.
      });
    }, SETTLED_AFTER_MS);
  }
  return (listener) => {
    const stop = ready.add(listener);
    if (waiting !== null) listener(take);
    return stop;
  };
}
