/** How this device's clock stands against the gateway's, and whether somebody moves it under the page. */
import type { ClockState } from '../door.js';

/** Less than this is a slow answer or the second that `Date` is told to. */
const NOTED_FROM_MS = 60_000;
const LOOK_EVERY_MS = 10_000;

/** The clocks of the device: one that people set, and one that only runs on. */
export interface DeviceClocks {
  readonly wallMs: () => number;
  readonly steadyMs: () => number;
}

export class ClockWatch {
  readonly #clocks: DeviceClocks;
  #aheadMs: number | null = null;
  #steppedMs = 0;
  #offsetMs: number;

  constructor(clocks: DeviceClocks) {
    this.#clocks = clocks;
    this.#offsetMs = clocks.wallMs() - clocks.steadyMs();
  }

  /** Starts looking; stops with the page. */
  start(): void {
    setInterval(() => {
      this.look();
    }, LOOK_EVERY_MS);
  }

  /**
   * Only a step back is told for certain: the steady clock of some devices stands still while they sleep,
   * which looks like a step ahead. That shows against the gateway's clock.
   */
  look(): void {
    const offsetMs = this.#clocks.wallMs() - this.#clocks.steadyMs();
    const steppedMs = offsetMs - this.#offsetMs;
    if (steppedMs <= -1000) this.#steppedMs += steppedMs;
    this.#offsetMs = offsetMs;
  }

  /** The gateway told its time. */
  compare(gatewayMs: number, tookMs: number): void {
    this.#aheadMs = Math.round(this.#clocks.wallMs() - tookMs / 2 - gatewayMs);
  }

  /** The gateway's time as far as it is known here, in ms since the epoch. */
  gatewayNowMs(): number {
    return this.#clocks.wallMs() - (this.#aheadMs ?? 0);
  }

  state(): ClockState {
    this.look();
    return { aheadMs: this.#aheadMs, steppedMs: this.#steppedMs };
  }

  /** What has to be said of times told by this device; null: nothing. */
  remark(): string | null {
    const { aheadMs, steppedMs } = this.state();
    const parts: string[] = [];
    if (aheadMs !== null && Math.abs(aheadMs) >= NOTED_FROM_MS) {
      const way = aheadMs > 0 ? 'ahead of' : 'behind';
      parts.push(`its clock was ${minutes(aheadMs)} ${way} the gateway's`);
    }
    if (steppedMs <= -NOTED_FROM_MS) {
      parts.push(`its clock was set back by ${minutes(steppedMs)} while the page was open`);
    }
    return parts.length === 0 ? null : `Noted by the device at the bedside: ${parts.join('; ')}.`;
  }
}

function minutes(ms: number): string {
  return `${Math.round(Math.abs(ms) / 60_000)} min`;
}
