import fc from 'fast-check';
import { Latencies } from '../../src/simulate/latencies.js';

describe('latencies', () => {
  it('are told to two per cent, whatever they are', () => {
    const times = fc.array(fc.double({ min: 0.2, max: 1e6, noNaN: true }), { minLength: 1 });
    fc.assert(
      fc.property(times, fc.constantFrom(0.01, 0.5, 0.9, 0.99, 1), (all, share) => {
        const latencies = new Latencies();
        for (const ms of all) latencies.add(ms);
        const sorted = [...all].sort((a, b) => a - b);
        // The smallest that at least this share of them does not exceed.
        const exact = sorted[Math.ceil(share * all.length) - 1] ?? 0;
        const told = latencies.centile(share) ?? 0;
        expect(told).toBeGreaterThanOrEqual(exact * 0.999);
        expect(told).toBeLessThanOrEqual(exact * 1.021);
        expect(latencies.longestMs).toBe(sorted.at(-1));
      }),
    );
  });

  it('are not told where none was counted', () => {
    expect(new Latencies().centile(0.5)).toBeNull();
  });
});
