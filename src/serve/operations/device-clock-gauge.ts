import { Gauge } from 'prom-client';
import type { Registry } from 'prom-client';
import type { WatchedClock } from '../../store/device-clocks.js';

/** Series at most, those last seen: a house that registers a device for every bed stays within it. */
export const MOST_DEVICE_CLOCKS = 2_000;

/**
 * How far the clock of each registered device is ahead. A device that nobody has registered has no
 * series: whoever sends cannot make new ones.
 * @param readClocks asked at each scrape; no more than {@link MOST_DEVICE_CLOCKS} are shown
 */
export function addDeviceClockGauge(
  registry: Registry,
  readClocks: () => Promise<readonly WatchedClock[]>,
): void {
  new Gauge({
    name: 'gateway_device_clock_ahead_seconds',
    help: 'Time of a registered device minus the true time, as last seen in a message that told both',
    labelNames: ['device', 'identifier'],
    registers: [registry],
    async collect() {
      // Without the database nobody knows; the other figures still matter.
      const clocks = await readClocks().catch(() => []);
      this.reset();
      for (const { deviceId, device, offsetMs } of clocks.slice(0, MOST_DEVICE_CLOCKS)) {
        const identifier = `${device.system}|${device.value}`;
        this.set({ device: deviceId, identifier }, offsetMs / 1000);
      }
    },
  });
}
