import { renderInTurns } from '../../../src/serve/fhir/turns.js';

describe('rendering in turns', () => {
  it('keeps the order, and loses nothing', async () => {
    const rows = Array.from({ length: 1_037 }, (_, n) => n);
    expect(await renderInTurns(rows, String)).toEqual(rows.map(String));
    expect(await renderInTurns([], String)).toEqual([]);
  });

  it('lets other work in between the slices of many readers', async () => {
    const order: string[] = [];
    const rows = Array.from({ length: 1_000 }, (_, n) => n);
    const reading = Array.from({ length: 20 }, () =>
      renderInTurns(rows, (row) => {
        if (row === 999) order.push('page');
        return String(row);
      }),
    );
    setImmediate(() => {
      setImmediate(() => order.push('set'));
    });
    await Promise.all(reading);
    expect(order[0]).toBe('set');
  });
});
