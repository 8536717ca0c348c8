/** Waits for an answer so long and no longer, and after that does not ask for a while. */

export interface PatienceBounds {
  readonly waitMs: number;
  /** So long after an answer that did not come nothing is asked. */
  readonly restMs: number;
}

export class Patience {
  readonly #bounds: PatienceBounds;
  #restsUntilMs = 0;

  constructor(bounds: PatienceBounds) {
    this.#bounds = bounds;
  }

  /** There is a reason to ask again at once. */
  renew(): void {
    this.#restsUntilMs = 0;
  }

  /** Null: no answer came in time, or none was asked for. */
  async ask<T>(question: () => Promise<T | null>): Promise<T | null> {
    const { waitMs, restMs } = this.#bounds;
    if (performance.now() < this.#restsUntilMs) return null;
    const answer = await Promise.race([question(), nothingAfter(waitMs)]);
    if (answer === null) this.#restsUntilMs = performance.now() + restMs;
    return answer;
  }
}

function nothingAfter(ms: number): Promise<null> {
  return new Promise((resolve) => {
    setTimeout(() => {
      resolve(null);
    }, ms);
  });
}
