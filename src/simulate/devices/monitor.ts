import { readPressure } from './cuff.js';
import { readOximeter } from './oximeter.js';
import { pulseBy } from './sample.js';
import type { Bedside, Measured } from './sample.js';

/** A pressure comes with every so many-th message only: the cuff squeezes the arm. */
const PRESSURE_EVERY = 5;

/** By electrodes the heart and the breath, by a probe the saturation, by a cuff the pressure. */
export function readMonitor(bedside: Bedside): readonly Measured[] {
  const { signs, noise, round } = bedside;
  const value = Math.round(signs.breaths + noise.around(1));
  return [
    { reading: pulseBy('electrocardiography', bedside) },
    { reading: { vital: 'respiratory-rate', method: 'impedance', value, unit: '/min' } },
    ...readOximeter(bedside),
    ...(round % PRESSURE_EVERY === 0 ? [readPressure(bedside)] : []),
  ];
}
