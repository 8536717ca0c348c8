/** Times until an answer, in ms, as a histogram: its size does not grow with what is counted. */

/** Each step is so much longer than the one before: what is read from it is right to this share. */
const STEP = 1.02;
const SHORTEST_MS = 0.1;
const LONGEST_MS = 60 * 60 * 1000;
const STEPS = Math.ceil(Math.log(LONGEST_MS / SHORTEST_MS) / Math.log(STEP)) + 1;

export class Latencies {
  readonly #counts = new Uint32Array(STEPS);
  #count = 0;
  #longestMs = 0;

  add(ms: number): void {
    const step = Math.ceil(Math.log(Math.max(ms, SHORTEST_MS) / SHORTEST_MS) / Math.log(STEP));
    const place = Math.min(STEPS - 1, step);
    this.#counts[place] = (this.#counts[place] ?? 0) + 1;
    this.#count += 1;
    this.#longestMs = Math.max(this.#longestMs, ms);
  }

  get longestMs(): number {
    return this.#longestMs;
  }

  /** At most so long took this share of them; null: none was counted. */
  centile(share: number): number | null {
    if (this.#count === 0) return null;
    const wanted = Math.max(1, Math.ceil(share * this.#count));
    let seen = 0;
    const place = this.#counts.findIndex((count) => {
      seen += count;
      return seen >= wanted;
    });
    return Math.min(this.#longestMs, SHORTEST_MS * STEP ** place);
  }
}
