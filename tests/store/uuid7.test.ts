import fc from 'fast-check';
import { uuid7 } from '../../src/store/uuid7.js';

/** RFC 9562 §5.7 and appendix A.6 (the time of the published example is 017F22E279B0). */
describe('a UUID version 7', () => {
  it('begins with its time, as in the published example', () => {
    const id = uuid7(Date.parse('2022-02-22T19:22:22.000Z'));
    expect(id).toMatch(/^017f22e2-79b0-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  });

  it('takes a clock that counts parts of a millisecond', () => {
    expect(uuid7(1.9)).toMatch(/^00000000-0001-7/);
  });

  it('sorts by time, and is not made twice', () => {
    fc.assert(
      fc.property(fc.nat(2 ** 47), fc.nat(2 ** 47), (one, other) => {
        const [a, b] = [uuid7(one), uuid7(other)];
        expect(a).not.toBe(b);
        if (one !== other) expect(a < b).toBe(one < other);
      }),
    );
  });
});
