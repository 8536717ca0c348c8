/** What somebody is entering, sealed, one for each person: nobody else's is ever loaded. */
import type { Identifier } from '../../../vitals/incoming.js';
import type { DeviceDatabase, DraftRow } from './device-database.js';
import type { Seal } from './seal.js';

const NAME = 'draft';
/** A set that nobody finished in a week will not be finished. */
const MAX_AGE_MS = 7 * 24 * 60 * 60 * 1000;

interface OwnedDraft {
  readonly owner: Identifier;
  readonly draft: object;
}

interface FoundDraft extends OwnedDraft {
  readonly draftId: string;
}

export function isSamePerson(one: Identifier, other: Identifier): boolean {
  return one.system === other.system && one.value === other.value;
}

export class Drafts {
  readonly #database: DeviceDatabase;
  readonly #seal: Seal;
  /** Saving and clearing come one after the other: what was cleared must not come back. */
  #last: Promise<unknown> = Promise.resolve();

  constructor(database: DeviceDatabase, seal: Seal) {
    this.#database = database;
    this.#seal = seal;
  }

  async load(owner: Identifier): Promise<object | null> {
    await this.#last;
    try {
      return (await this.#find(owner))?.draft ?? null;
    } catch {
      return null;
    }
  }

  /** False: this device keeps nothing just now. */
  save(owner: Identifier, draft: object): Promise<boolean> {
    return this.#inTurn(async () => {
      const draftId = (await this.#find(owner))?.draftId ?? crypto.randomUUID();
      const sealed = await this.#seal.close(NAME, { owner, draft } satisfies OwnedDraft);
      const row: DraftRow = { ...sealed, draftId, savedMs: Date.now() };
      await this.#database.write('drafts', (store) => store.put(row));
    });
  }

  clear(owner: Identifier): Promise<boolean> {
    return this.#inTurn(async () => {
      const found = await this.#find(owner);
      if (found === null) return;
      await this.#database.write('drafts', (store) => store.delete(found.draftId));
    });
  }

  #inTurn(work: () => Promise<void>): Promise<boolean> {
    const turn = this.#last.then(work).then(
      () => true,
      () => false,
    );
    this.#last = turn;
    return turn;
  }

  /** Whose a draft is stands inside: there are as few of them as people at one device. */
  async #find(owner: Identifier): Promise<FoundDraft | null> {
    const rows = await this.#database.read<DraftRow[]>('drafts', (store) => store.getAll());
    for (const row of rows) {
      if (Date.now() - row.savedMs > MAX_AGE_MS) {
        await this.#database.write('drafts', (store) => store.delete(row.draftId));
        continue;
      }
      const opened = (await this.#seal.open(NAME, row)) as OwnedDraft | null;
      if (opened !== null && isSamePerson(opened.owner, owner)) {
        return { ...opened, draftId: row.draftId };
      }
    }
    return null;
  }
}
