/**
 * The group commit: sets that arrive at about the same time are judged and written in one transaction.
 * Alone, a set starts a batch at once; while batches are on their way, later sets gather for the next.
 */

/** Batches under way at a time: while some wait for the database, the next is judged. */
const BATCHES_UNDER_WAY = 3;

/** Items in one batch: enough to share a flush, few enough to keep locks short. */
const MAX_BATCH = 64;

/** Items waiting before new ones are refused: about ten seconds of full load. */
const MAX_WAITING = 10_000;

interface Waiting<Item, Result> {
  readonly item: Item;
  readonly resolve: (result: Result) => void;
  readonly reject: (error: unknown) => void;
}

export interface GroupCommitOptions<Item, Result> {
  /** Commits all or nothing; one result an item, in order. */
  readonly commit: (items: readonly Item[]) => Promise<Result[]>;
  /** Items that share a key never share a batch: the second must see what became of the first. */
  readonly keysOf: (item: Item) => readonly string[];
  /** After this failure the same items are not tried again one by one. */
  readonly isHopeless: (error: unknown) => boolean;
  readonly overloaded: () => Error;
  readonly onBatch?: (size: number, seconds: number) => void;
}

export class GroupCommit<Item, Result> {
  #waiting: Waiting<Item, Result>[] = [];
  #underWay = 0;
  #idle: (() => void)[] = [];
  readonly #options: GroupCommitOptions<Item, Result>;

  constructor(options: GroupCommitOptions<Item, Result>) {
    this.#options = options;
  }

  /** Resolves once the item is committed. */
  submit(item: Item): Promise<Result> {
    if (this.#waiting.length >= MAX_WAITING) return Promise.reject(this.#options.overloaded());
    return new Promise((resolve, reject) => {
      this.#waiting.push({ item, resolve, reject });
      // The microtask lets requests that were parsed in the same turn share a batch.
      queueMicrotask(() => {
        this.#startBatches();
      });
    });
  }

  /** Resolves when nothing waits or is under way. */
  async drain(): Promise<void> {
    if (this.#underWay === 0 && this.#waiting.length === 0) return;
    await new Promise<void>((resolve) => this.#idle.push(resolve));
  }

  #startBatches(): void {
    while (this.#underWay < BATCHES_UNDER_WAY && this.#waiting.length > 0) {
      const batch = this.#takeBatch();
      this.#underWay += 1;
      void this.#run(batch).finally(() => {
        this.#underWay -= 1;
        this.#startBatches();
        if (this.#underWay === 0 && this.#waiting.length === 0) {
          for (const done of this.#idle.splice(0)) done();
        }
      });
    }
  }

  #takeBatch(): Waiting<Item, Result>[] {
    const batch: Waiting<Item, Result>[] = [];
    const later: Waiting<Item, Result>[] = [];
    const keys = new Set<string>();
    for (const entry of this.#waiting) {
      const own = this.#options.keysOf(entry.item);
      if (batch.length >= MAX_BATCH || own.some((key) => keys.has(key))) later.push(entry);
      else {
        batch.push(entry);
        for (const key of own) keys.add(key);
      }
    }
    this.#waiting = later;
    return batch;
  }

  async #run(batch: readonly Waiting<Item, Result>[]): Promise<void> {
    const started = performance.now();
    try {
      const results = await this.#options.commit(batch.map((entry) => entry.item));
      this.#options.onBatch?.(batch.length, (performance.now() - started) / 1000);
      batch.forEach((entry, i) => {
        entry.resolve(results[i] as Result);
      });
    } catch (error) {
      if (batch.length === 1 || this.#options.isHopeless(error)) {
        for (const entry of batch) entry.reject(error);
        return;
      }
      // One bad item must not cost its neighbours: each gets a transaction of its own.
      for (const entry of batch) await this.#run([entry]);
    }
  }
}
