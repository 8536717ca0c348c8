/**
 * What a person's signs really are at a moment: a pure function, so that all devices at one bed measure the
 * same body, and so that nothing has to be remembered for a thousand of them.
 */
import { noiseOf } from '../demo/noise.js';
import type { Noise } from '../demo/noise.js';
import { signsAt } from '../demo/signs.js';
import type { Signs } from '../demo/signs.js';
import type { Person } from './person.js';

const MINUTE_MS = 60_000;
const WEEK_MS = 7 * 24 * 60 * MINUTE_MS;

/**
 * In the place of chance: each question is answered by a wave of its own, of an hour or so upon one of some
 * hours, so that an answer changes by little from minute to minute.
 */
function slowDrift(name: string, atMs: number): Noise {
  let asked = 0;
  const wave = (): number => {
    const own = noiseOf(`${name} wave ${asked++}`);
    const swing = (shortestMs: number, longestMs: number): number =>
      Math.sin(2 * Math.PI * (atMs / own.between(shortestMs, longestMs) + own.between(0, 1)));
    return (
      0.4 * swing(40 * MINUTE_MS, 90 * MINUTE_MS) + 0.6 * swing(180 * MINUTE_MS, 420 * MINUTE_MS)
    );
  };
  return {
    between: (low, high) => low + ((wave() + 1) / 2) * (high - low),
    around: (reach) => wave() * reach,
  };
}

/** Rhythm of the day, and the drift of this person. */
export function trueSigns(person: Person, atMs: number): Signs {
  const { system, value } = person.identifier;
  // A fever of the ward began a week ago, and is nearly over.
  return signsAt(person, atMs, atMs - WEEK_MS, slowDrift(`${system} ${value}`, atMs));
}
