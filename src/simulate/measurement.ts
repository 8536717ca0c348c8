/** What one device says at one moment, before a protocol puts it into words. */
import type { Noise } from '../demo/noise.js';
import type { Moment } from '../vitals/shapes.js';
import type { SimulatedDevice } from './device.js';
import { measure } from './devices/measure.js';
import type { Sample } from './devices/sample.js';
import type { Person } from './person.js';

export interface Measurement {
  readonly device: SimulatedDevice;
  /** Who the message says it is. */
  readonly claimed: Person;
  /** By the clock of the device. */
  readonly takenAt: Moment;
  /** By the clock of whatever sends for it. */
  readonly sentAt: Moment;
  readonly samples: readonly Sample[];
}

export function takeMeasurement(
  device: SimulatedDevice,
  at: Moment,
  round: number,
  noise: Noise,
): Measurement {
  const samples = measure(device, at.epochMs, round, noise);
  return { device, claimed: device.person, takenAt: at, sentAt: at, samples };
}
