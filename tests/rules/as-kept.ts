import type { EarlierReading, JudgedSet } from '../../src/vitals/shapes.js';
import { kept, minutesFromNoon } from './build-context.js';

/** A judged set as later sets find it: what the store keeps of it, some minutes ago. */
export function asKept(judged: JudgedSet, minutes: number, name = 'before'): EarlierReading[] {
  return judged.readings.map(({ reading, verdict, hold, status, findings }) =>
    kept(
      { ...reading, takenAt: minutesFromNoon(-minutes) },
      {
        readingId: `${name}-${reading.index}`,
        verdict,
        hold,
        status,
        ...(hold === 'value' && { doubts: findings.filter((each) => each.hold !== undefined) }),
      },
    ),
  );
}
