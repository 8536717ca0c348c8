import { Memory } from '../../src/store/memory.js';

describe('a memory of two generations', () => {
  it('still has what it had a moment ago, however much is learnt meanwhile', () => {
    const memory = new Memory<number>(100);
    for (let n = 0; n < 100; n += 1) memory.set(`old ${n}`, n);
    for (let n = 0; n < 99; n += 1) memory.set(`new ${n}`, n);
    expect(memory.get('old 3')).toBe(3);
  });

  it('keeps what is asked for, and forgets the rest', () => {
    const memory = new Memory<number>(100);
    memory.set('asked', 1);
    for (let n = 0; n < 1_000; n += 1) {
      memory.set(`other ${n}`, n);
      memory.get('asked');
    }
    expect(memory.get('asked')).toBe(1);
    expect(memory.get('other 0')).toBeUndefined();
  });
});
