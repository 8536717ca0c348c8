/** What page, service worker and gateway say to each other. */

/** Stable, so that a browser finds the next worker where it found this one. */
export const WORKER_PATH = '/bedside/worker.js';
export const WORKER_SCOPE = '/bedside';
/** Said to a worker that waits: nothing is being entered. */
export const TAKE_OVER = 'take-over';
