import { ClockWatch } from '../../../src/browser/bedside/gateway/clock-watch.js';

const MINUTE_MS = 60_000;

function watched() {
  const clocks = { wall: Date.parse('2026-03-01T07:15:00Z'), steady: 5_000 };
  const watch = new ClockWatch({ wallMs: () => clocks.wall, steadyMs: () => clocks.steady });
  return {
    watch,
    pass: (ms: number): void => {
      clocks.wall += ms;
      clocks.steady += ms;
    },
    set: (ms: number): void => {
      clocks.wall += ms;
    },
    now: () => clocks.wall,
  };
}

describe('a clock that is right', () => {
  it('has nothing said of it', () => {
    const { watch, pass, now } = watched();
    pass(10 * MINUTE_MS);
    watch.compare(now() + 900, 200);
    expect(watch.remark()).toBeNull();
    expect(watch.state()).toEqual({ aheadMs: -1000, steppedMs: 0 });
  });

  it('is not doubted after the device slept: the steady clock stood still', () => {
    const { watch, set } = watched();
    set(8 * 60 * MINUTE_MS);
    expect(watch.remark()).toBeNull();
  });
});

describe('a clock that is not', () => {
  it('is told against the clock of the gateway', () => {
    const { watch, now } = watched();
    watch.compare(now() + 62 * MINUTE_MS, 0);
    expect(watch.remark()).toBe(
      "Noted by the device at the bedside: its clock was 62 min behind the gateway's.",
    );
    expect(watch.gatewayNowMs()).toBe(now() + 62 * MINUTE_MS);
    watch.compare(now() - 2 * MINUTE_MS, 0);
    expect(watch.remark()).toContain("2 min ahead of the gateway's");
  });

  it('is noticed when somebody sets it back, in however many steps', () => {
    const { watch, pass, set } = watched();
    set(-40 * MINUTE_MS);
    pass(1000);
    watch.look();
    set(-20 * MINUTE_MS);
    expect(watch.remark()).toBe(
      'Noted by the device at the bedside: its clock was set back by 60 min while the page was open.',
    );
  });
});
