import type { Noise } from '../../demo/noise.js';
import type { Signs } from '../../demo/signs.js';
import type { IncomingReading } from '../../vitals/shapes.js';
import type { Person } from '../person.js';

/** What a device says of its own signal. `lost`: there is no value. */
export type Signal = 'good' | 'questionable' | 'lost';

/** One reading of a device. */
export interface Sample {
  readonly reading: IncomingReading;
  readonly signal: Signal;
  /** Of an oximeter, in percent: how strong the pulse is at its probe. */
  readonly perfusion?: string;
}

export type Measured = Omit<Sample, 'signal'>;

/** The body before a device, and the device's own small error. */
export interface Bedside {
  readonly person: Person;
  readonly signs: Signs;
  readonly noise: Noise;
  /** Which of the measurements of this device it is, counted from 0. */
  readonly round: number;
}

/** A pulse as a device finds it while it measures something else. */
export function pulseBy(
  method: 'electrocardiography' | 'pulse-oximetry' | 'oscillometry',
  { signs, noise }: Bedside,
): IncomingReading {
  const value = Math.round(signs.pulse + noise.around(1.4));
  return { vital: 'pulse-rate', method, value, unit: '/min' };
}
