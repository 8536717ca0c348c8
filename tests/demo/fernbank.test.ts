import { fernbankBefore, FERNBANK } from '../../src/demo/fernbank.js';

const NOW_MS = Date.parse('2026-03-02T10:00:00Z');
const sets = fernbankBefore(NOW_MS);

it('covers three weeks, up to two hours ago, in order of arrival, the same every time', () => {
  const taken = sets.map(({ set }) => Date.parse(set.takenAt));
  expect(sets).toHaveLength(FERNBANK.length * 63);
  expect(NOW_MS - Math.min(...taken)).toBeGreaterThan(20 * 86_400_000);
  expect(Math.max(...sets.map(({ receivedAtMs }) => receivedAtMs))).toBeLessThan(NOW_MS);
  expect(sets.map(({ receivedAtMs }) => receivedAtMs)).toEqual(
    sets.map(({ receivedAtMs }) => receivedAtMs).sort((a, b) => a - b),
  );
  expect(fernbankBefore(NOW_MS)).toEqual(sets);
});

it('has a cuff that begins to read high, beside one that does not', () => {
  const gaps = (cuff: string, half: 'first' | 'second'): number[] =>
    sets.flatMap(({ set }) => {
      const [byEar, byCuff] = set.readings.filter(({ vital }) => vital === 'blood-pressure');
      const isFirst = Date.parse(set.takenAt) < NOW_MS - 11 * 86_400_000;
      if (byCuff?.device?.identifier.value !== cuff || isFirst !== (half === 'first')) return [];
      return [Number(byCuff.systolic) - Number(byEar?.systolic)];
    });
  const mean = (numbers: number[]): number =>
    numbers.reduce((total, number) => total + number, 0) / numbers.length;
  expect(mean(gaps('BP-7', 'second')) - mean(gaps('BP-7', 'first'))).toBeGreaterThan(7);
  expect(Math.abs(mean(gaps('BP-6', 'second')) - mean(gaps('BP-6', 'first')))).toBeLessThan(2);
});

it('has a nurse who writes 18 breaths for everybody, and one who writes late', () => {
  const of = (nurse: string) => sets.filter(({ set }) => set.recorder?.identifier.value === nurse);
  const counts = of('N-409').map(({ set }) => set.readings[0]?.count);
  expect(new Set(counts)).toEqual(new Set([9]));
  const late = of('N-417').every(
    ({ set, receivedAtMs }) => receivedAtMs - Date.parse(set.takenAt) >= 30 * 60_000,
  );
  expect(late).toBe(true);
});
