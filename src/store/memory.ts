/**
 * A bounded memory of what hardly ever changes. Two generations: when the young one is full it becomes the
 * old one, and what the old one held is forgotten. What was there a moment ago is therefore still there,
 * however much others learn meanwhile.
 */
export class Memory<Value> {
  #young = new Map<string, Value>();
  #old = new Map<string, Value>();
  readonly #generation: number;

  /** @param generation names in one generation; at most twice as many are remembered */
  constructor(generation: number) {
    this.#generation = generation;
  }

  get(name: string): Value | undefined {
    const young = this.#young.get(name);
    if (young !== undefined) return young;
    const old = this.#old.get(name);
    if (old !== undefined) this.set(name, old);
    return old;
  }

  delete(name: string): void {
    this.#young.delete(name);
    this.#old.delete(name);
  }

  set(name: string, value: Value): void {
    if (this.#young.size >= this.#generation) {
      this.#old = this.#young;
      this.#young = new Map();
    }
    this.#young.set(name, value);
  }
}
