/** Those who want to be told of something. */
export class Listeners<Told extends readonly unknown[]> {
  readonly #listeners = new Set<(...told: Told) => void>();

  /** @returns what ends it */
  add(listener: (...told: Told) => void): () => void {
    this.#listeners.add(listener);
    return () => void this.#listeners.delete(listener);
  }

  tell(...told: Told): void {
    for (const listener of this.#listeners) listener(...told);
  }
}
