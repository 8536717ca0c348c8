/** One page at a time enters sets on a device: two would write one draft over the other. */
const LOCK = 'bedside-page';

/**
 * Asks to be that page. `onTaken` is told when another one takes over.
 * @param steal take over from the page that is open elsewhere
 * @returns whether this page may go on; true where the browser has no such locks
 */
export function holdPage(steal: boolean, onTaken: () => void): Promise<boolean> {
  if (!('locks' in navigator)) return Promise.resolve(true);
  return new Promise((resolve) => {
    navigator.locks
      .request(LOCK, steal ? { steal } : { ifAvailable: true }, (lock) => {
        resolve(lock !== null);
        // Held until the page is closed or another one steals it.
        return lock === null ? undefined : new Promise<never>(() => undefined);
      })
      .catch(onTaken);
  });
}
