/** Tells open pages that the list of held readings has changed: one look a second, and only while somebody listens. */
import type { HeldCounts, NewlyHeld } from '../../../store/held-figures.js';

const LOOK_EVERY_MS = 1_000;
/** What a page missed before anybody listened is counted so far back. */
const FIRST_LOOK_BACK_MS = 60_000;
/** Pages that one process keeps open connections to. */
const MOST_LISTENERS = 200;

export interface HeldChange {
  /** Stamp up to which it speaks, in ms since the epoch. */
  readonly stampMs: number;
  readonly counts: HeldCounts;
  readonly newlyHeld: NewlyHeld;
}

/** What it looks at. */
export interface HeldSource {
  readonly readLastStamp: () => Promise<number>;
  readonly countHeld: () => Promise<HeldCounts>;
  readonly countNewlyHeld: (afterMs: number, untilMs: number) => Promise<NewlyHeld>;
}

interface Listener {
  /** Stamp up to which its page knows the list. */
  readonly sinceMs: number;
  readonly onChange: (change: HeldChange) => void;
  readonly onStop: () => void;
}

export class HeldFeed {
  readonly #source: HeldSource;
  readonly #onFailure: (error: unknown) => void;
  readonly #listeners = new Set<Listener>();
  #timer: NodeJS.Timeout | undefined;
  #looking = false;
  #last: HeldChange | null = null;
  #lastChange: HeldChange | null = null;

  constructor(source: HeldSource, onFailure: (error: unknown) => void) {
    this.#source = source;
    this.#onFailure = onFailure;
  }

  /** The last change that was told; null: none since somebody began to listen. */
  get lastChange(): HeldChange | null {
    return this.#lastChange;
  }

  /** Null: as many listen as may. Else the way to end it. */
  listen(listener: Listener): (() => void) | null {
    if (this.#listeners.size >= MOST_LISTENERS) return null;
    this.#listeners.add(listener);
    this.#timer ??= setInterval(() => void this.#look(), LOOK_EVERY_MS);
    return () => {
      this.#listeners.delete(listener);
      if (this.#listeners.size === 0) this.#rest();
    };
  }

  /** Ends all listening: the gateway stops. */
  stop(): void {
    for (const { onStop } of this.#listeners) onStop();
    this.#listeners.clear();
    this.#rest();
  }

  #rest(): void {
    clearInterval(this.#timer);
    this.#timer = undefined;
    this.#last = null;
    this.#lastChange = null;
  }

  async #look(): Promise<void> {
    if (this.#looking) return;
    this.#looking = true;
    try {
      const change = await this.#findChange();
      this.#lastChange = change ?? this.#lastChange;
      if (change !== null) for (const { onChange } of this.#listeners) onChange(change);
    } catch (error) {
      this.#onFailure(error);
    } finally {
      this.#looking = false;
    }
  }

  /** From when on a first look counts what is new: since the oldest page was made, if that is not long ago. */
  #knownByAll(stampMs: number): number {
    // Not later than now, whatever a page says, and whether or not anybody still listens.
    const since = Math.min(stampMs, ...[...this.#listeners].map(({ sinceMs }) => sinceMs));
    return stampMs - since < FIRST_LOOK_BACK_MS ? since : stampMs;
  }

  /** Null: the list is as it was at the last look. A first look is always told: nobody knows what was before. */
  async #findChange(): Promise<HeldChange | null> {
    const last = this.#last;
    const stampMs = await this.#source.readLastStamp();
    if (last?.stampMs === stampMs) return null;
    const counts = await this.#source.countHeld();
    const knownMs = last?.stampMs ?? this.#knownByAll(stampMs);
    const newlyHeld = await this.#source.countNewlyHeld(knownMs, stampMs);
    const change = { stampMs, counts, newlyHeld };
    if (this.#timer !== undefined) this.#last = change;
    if (last === null) return change;
    return newlyHeld.all > 0 || !isSame(last.counts, counts) ? change : null;
  }
}

function isSame(one: HeldCounts, other: HeldCounts): boolean {
  return (
    one.criticalWaiting === other.criticalWaiting &&
    one.criticalOut === other.criticalOut &&
    one.otherWaiting === other.otherWaiting &&
    one.otherOut === other.otherOut
  );
}
