import { pulseBy } from './sample.js';
import type { Bedside, Measured } from './sample.js';

/** Saturation and pulse at one probe. */
export function readOximeter(bedside: Bedside): readonly Measured[] {
  const { person, signs, noise } = bedside;
  const site = person.taken === 'baby' ? 'foot' : 'finger';
  const value = Math.min(100, Math.round(signs.saturation + noise.around(0.8)));
  return [
    {
      reading: { vital: 'oxygen-saturation', method: 'pulse-oximetry', site, value, unit: '%' },
      perfusion: noise.between(1.2, 6.5).toFixed(1),
    },
    { reading: { ...pulseBy('pulse-oximetry', bedside), site } },
  ];
}
