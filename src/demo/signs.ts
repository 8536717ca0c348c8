/** What a patient's signs are at a moment of the week: day rhythm, the course of a fever, small chance. */
import type { Noise } from './noise.js';
import type { Usual, WardPatient } from './ward.js';

const DAY_MS = 24 * 60 * 60 * 1000;

/** What the patient's signs really are at one moment; nobody measures them that exactly. */
export type Signs = Omit<Usual, 'weight' | 'height'>;

/** Half past five in the afternoon is the warmest hour, half past five in the morning the coolest. */
function dayRhythm(atMs: number): number {
  return Math.cos(((atMs % DAY_MS) / DAY_MS - 17.5 / 24) * 2 * Math.PI);
}

export function signsAt(
  { usual, fever }: Pick<WardPatient, 'usual' | 'fever'>,
  atMs: number,
  weekFromMs: number,
  noise: Noise,
): Signs {
  const rhythm = dayRhythm(atMs);
  const illness = fever === true ? Math.exp(-(atMs - weekFromMs) / (1.6 * DAY_MS)) : 0;
  return {
    breaths: usual.breaths * (1 + 0.04 * rhythm + noise.around(0.08)) + 6 * illness,
    pulse: usual.pulse * (1 + 0.05 * rhythm + noise.around(0.06)) + 24 * illness,
    saturation: usual.saturation + noise.around(1.4) - 3 * illness,
    systolic: usual.systolic * (1 + 0.03 * rhythm + noise.around(0.05)),
    diastolic: usual.diastolic * (1 + 0.02 * rhythm + noise.around(0.05)),
    temperature: usual.temperature + 0.25 * rhythm + noise.around(0.15) + 1.9 * illness,
  };
}
