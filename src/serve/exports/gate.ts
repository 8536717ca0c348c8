/** Lets a number of pieces of work run at once; the others wait, first come first served. */
export type Gate = <T>(work: () => Promise<T>) => Promise<T>;

export function createGate(most: number): Gate {
  let running = 0;
  const waiting: (() => void)[] = [];
  return async (work) => {
    if (running >= most) await new Promise<void>((resolve) => waiting.push(resolve));
    else running += 1;
    try {
      return await work();
    } finally {
      // Whoever waits longest takes this place over as it is.
      const next = waiting.shift();
      if (next === undefined) running -= 1;
      else next();
    }
  };
}
