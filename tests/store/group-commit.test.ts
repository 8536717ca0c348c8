import { GroupCommit } from '../../src/store/group-commit.js';

/** A commit that waits until it is let go, and remembers its batches. */
function gate(): {
  batches: string[][];
  commit: (items: readonly string[]) => Promise<string[]>;
  open: () => void;
} {
  const batches: string[][] = [];
  let open: () => void = () => undefined;
  const opened = new Promise<void>((resolve) => (open = resolve));
  return {
    batches,
    async commit(items) {
      batches.push([...items]);
      await opened;
      return items.map((item) => `done ${item}`);
    },
    open: () => {
      open();
    },
  };
}

const plain = {
  keysOf: (item: string) => [item.split('#')[0] ?? item],
  isHopeless: (error: unknown) => String(error).includes('away'),
  overloaded: () => new Error('overloaded'),
};

describe('group commit', () => {
  it('gathers what arrives while batches are under way, and answers each item with its own result', async () => {
    const door = gate();
    const commits = new GroupCommit({ ...plain, commit: door.commit });
    const answers = ['a', 'b', 'c', 'd', 'e'].map((item) => commits.submit(item));
    await new Promise((resolve) => setTimeout(resolve, 5));
    const later = [commits.submit('f'), commits.submit('g')];
    door.open();
    expect(await Promise.all([...answers, ...later])).toEqual(
      ['a', 'b', 'c', 'd', 'e', 'f', 'g'].map((item) => `done ${item}`),
    );
    expect(door.batches.flat().sort()).toEqual(['a', 'b', 'c', 'd', 'e', 'f', 'g']);
    expect(door.batches.length).toBeLessThan(7);
  });

  it('never puts two items with one key into a batch', async () => {
    const door = gate();
    const commits = new GroupCommit({ ...plain, commit: door.commit });
    const answers = ['k#1', 'k#2', 'other', 'k#3'].map((item) => commits.submit(item));
    door.open();
    await Promise.all(answers);
    for (const batch of door.batches) {
      const keys = batch.flatMap((item) => plain.keysOf(item));
      expect(new Set(keys).size).toBe(keys.length);
    }
  });

  it('lets only the bad item of a batch fail', async () => {
    const commits = new GroupCommit<string, string>({
      ...plain,
      commit: (items) =>
        items.includes('bad')
          ? Promise.reject(new Error('cannot be written'))
          : Promise.resolve(items.map((item) => `done ${item}`)),
    });
    const results = await Promise.allSettled(['a', 'bad', 'b'].map((item) => commits.submit(item)));
    expect(results.map((result) => result.status)).toEqual(['fulfilled', 'rejected', 'fulfilled']);
  });

  it('does not try item by item when the database is away', async () => {
    let tries = 0;
    const commits = new GroupCommit<string, string>({
      ...plain,
      commit: () => {
        tries += 1;
        return Promise.reject(new Error('away'));
      },
    });
    const results = await Promise.allSettled(['a', 'b', 'c'].map((item) => commits.submit(item)));
    expect(results.every((result) => result.status === 'rejected')).toBe(true);
    expect(tries).toBe(1);
  });

  it('refuses more than it will queue, and goes on with what it has', async () => {
    const door = gate();
    const commits = new GroupCommit({ ...plain, commit: door.commit });
    const answers = Array.from({ length: 10_200 }, (_, n) => commits.submit(`item${n}`));
    const settled = Promise.allSettled(answers);
    door.open();
    const results = await settled;
    const refused = results.filter((result) => result.status === 'rejected');
    expect(refused.length).toBeGreaterThan(0);
    expect(refused.length).toBeLessThanOrEqual(200);
  });

  it('drains: nothing is left under way', async () => {
    const door = gate();
    const commits = new GroupCommit({ ...plain, commit: door.commit });
    const answer = commits.submit('a');
    let drained = false;
    const draining = commits.drain().then(() => (drained = true));
    await new Promise((resolve) => setTimeout(resolve, 5));
    expect(drained).toBe(false);
    door.open();
    await Promise.all([answer, draining]);
    expect(drained).toBe(true);
  });
});
