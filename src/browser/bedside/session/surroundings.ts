import type { Door } from '../door.js';
import type { PageState } from './page-state.js';
import type { Store } from './store.js';

/** What a session needs of the world around it. */
export interface Surroundings {
  readonly door: Door;
  /** RFC 3339 with the offset of the place, as this device's clock and zone show it. */
  timeNow(): string;
  /** A clock that only goes on, in ms. */
  monotonicMs(): number;
  /** A new UUID. */
  newId(): string;
  /** Leaves the page for an address of the gateway. */
  leave(address: string): void;
  /** Does it once after that time; the answer calls it off. */
  later(act: () => void, afterMs: number): () => void;
}

export interface Session {
  readonly store: Store<PageState>;
  readonly around: Surroundings;
}
