import { Patience } from '../../../src/browser/bedside/gateway/patience.js';

const asked = (answer: string | null) => jest.fn(() => Promise.resolve(answer));
const never = () =>
  new Promise<null>(() => {
    // No answer comes.
  });

describe('patience', () => {
  it('gives the answer that comes', async () => {
    const patience = new Patience({ waitMs: 1_000, restMs: 1_000 });
    expect(await patience.ask(asked('well'))).toBe('well');
  });

  it('ends when none comes, and asks nothing more until it has rested or is told to', async () => {
    const patience = new Patience({ waitMs: 1, restMs: 60_000 });
    expect(await patience.ask(never)).toBeNull();
    const again = asked('well');
    expect(await patience.ask(again)).toBeNull();
    expect(again).not.toHaveBeenCalled();
    patience.renew();
    expect(await patience.ask(again)).toBe('well');
  });

  it('asks again after the rest', async () => {
    const patience = new Patience({ waitMs: 1_000, restMs: 0 });
    expect(await patience.ask(asked(null))).toBeNull();
    expect(await patience.ask(asked('well'))).toBe('well');
  });
});
