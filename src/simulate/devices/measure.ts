/** What each kind of device reads from a body: true signs, and the device's own small error. */
import type { Noise } from '../../demo/noise.js';
import { identifierOf } from '../device.js';
import type { DeviceKind, SimulatedDevice } from '../device.js';
import { trueSigns } from '../true-signs.js';
import { readCuff } from './cuff.js';
import { readMonitor } from './monitor.js';
import { readOximeter } from './oximeter.js';
import type { Bedside, Measured, Sample } from './sample.js';
import { readThermometer } from './thermometer.js';

const READING: Readonly<Record<DeviceKind, (bedside: Bedside) => readonly Measured[]>> = {
  monitor: readMonitor,
  thermometer: readThermometer,
  oximeter: readOximeter,
  cuff: readCuff,
};

/**
 * All that a device reads at a moment.
 * @param round which of its measurements it is, counted from 0
 */
export function measure(
  device: SimulatedDevice,
  atMs: number,
  round: number,
  noise: Noise,
): readonly Sample[] {
  const { person, kind } = device;
  const bedside = { person, signs: trueSigns(person, atMs), noise, round };
  return READING[kind](bedside).map((measured) => ({
    ...measured,
    reading: { ...measured.reading, device: { identifier: identifierOf(device) } },
    signal: 'good',
  }));
}
