/** Small differences that look like chance and are the same every time: a generator seeded by a name. */
export interface Noise {
  /** Anywhere from `low` to `high`, all alike. */
  between(low: number, high: number): number;
  /** Near zero mostly, never further from it than `reach`. */
  around(reach: number): number;
}

/** FNV-1a, 32 bits. */
function seedOf(name: string): number {
  let hash = 0x811c9dc5;
  for (const byte of Buffer.from(name)) hash = Math.imul(hash ^ byte, 0x01000193);
  return hash >>> 0;
}

/** The generator known as mulberry32: far from secret, and good enough for a demonstration. */
export function noiseOf(name: string): Noise {
  let state = seedOf(name);
  const next = (): number => {
    state = (state + 0x6d2b79f5) | 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
  return {
    between: (low, high) => low + next() * (high - low),
    around: (reach) => (next() + next() - 1) * reach,
  };
}
