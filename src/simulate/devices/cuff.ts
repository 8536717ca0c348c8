import { pulseBy } from './sample.js';
import type { Bedside, Measured } from './sample.js';

/** Pressures by an automatic cuff; it finds the mean first, near a third of the way up. */
export function readPressure({ signs, noise }: Bedside): Measured {
  const systolic = Math.round(signs.systolic + noise.around(2.5));
  const diastolic = Math.round(signs.diastolic + noise.around(2));
  const mean = Math.round(diastolic + (0.36 + noise.around(0.02)) * (systolic - diastolic));
  const how = { method: 'oscillometry', site: 'upper-arm', side: 'left' } as const;
  return {
    reading: { vital: 'blood-pressure', ...how, systolic, diastolic, mean, unit: 'mm[Hg]' },
  };
}

export function readCuff(bedside: Bedside): readonly Measured[] {
  return [readPressure(bedside), { reading: pulseBy('oscillometry', bedside) }];
}
