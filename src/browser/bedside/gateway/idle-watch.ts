/** Notices that nobody has touched the page for a while, also across a reload and a device that slept. */

const KEPT_NAME = 'bedside-touched';
const LOOK_EVERY_MS = 1_000;
const KEEP_EVERY_MS = 5_000;
/** What people do on purpose; a pointer that merely moves may be a sleeve. */
const TOUCHES = ['pointerdown', 'keydown', 'input'] as const;

export class IdleWatch {
  readonly #listeners = new Set<() => void>();
  #limitMs = 0;
  #touchedMs: number;
  #touchedSteadyMs = performance.now();
  #keptMs = 0;
  #idle = false;

  constructor() {
    this.#touchedMs = keptTouch() ?? Date.now();
  }

  get isIdle(): boolean {
    return this.#idle;
  }

  /** Begins to watch; nothing is idle before the limit is known. */
  start(): void {
    for (const type of TOUCHES) {
      addEventListener(
        type,
        () => {
          this.#touch();
        },
        { capture: true, passive: true },
      );
    }
    setInterval(() => {
      this.#look();
    }, LOOK_EVERY_MS);
    document.addEventListener('visibilitychange', () => {
      this.#look();
    });
  }

  setLimit(limitMs: number): void {
    this.#limitMs = limitMs;
    this.#look();
  }

  /** The person has said by hand that it is still the same. */
  end(): void {
    this.#idle = false;
    this.#note();
  }

  listen(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => void this.#listeners.delete(listener);
  }

  #touch(): void {
    this.#look();
    if (!this.#idle) this.#note();
  }

  #note(): void {
    this.#touchedMs = Date.now();
    this.#touchedSteadyMs = performance.now();
    if (Math.abs(this.#touchedMs - this.#keptMs) < KEEP_EVERY_MS) return;
    this.#keptMs = this.#touchedMs;
    keepTouch(this.#touchedMs);
  }

  /** By either clock: the one stands still in sleep on some devices, the other can be set. */
  #look(): void {
    if (this.#idle || this.#limitMs === 0) return;
    const byWall = Date.now() - this.#touchedMs;
    const bySteady = performance.now() - this.#touchedSteadyMs;
    if (Math.max(byWall, bySteady) < this.#limitMs) return;
    this.#idle = true;
    for (const listener of this.#listeners) listener();
  }
}

function keptTouch(): number | null {
  try {
    const kept = Number(localStorage.getItem(KEPT_NAME) ?? Number.NaN);
    return Number.isFinite(kept) ? kept : null;
  } catch {
    return null;
  }
}

function keepTouch(touchedMs: number): void {
  try {
    localStorage.setItem(KEPT_NAME, String(touchedMs));
  } catch {
    // Then a reload counts as a touch.
  }
}
