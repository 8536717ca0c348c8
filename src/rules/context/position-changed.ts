import { POSITION_EFFECT } from '../../vitals/limits-sources-measuring.js';
import type { JudgingContext, PastReading, Reading } from '../../vitals/shapes.js';
import { isUndoubted, timeBefore } from '../own-values.js';
import type { AcrossRule, ReadingFacts, Remark } from '../rule.js';
import { pressure } from '../wording.js';

type Placed = Pick<Reading, 'vital' | 'site' | 'side' | 'position' | 'takenAt' | 'values'>;

/** The same limb, as far as both tell it, in two positions that both tell. */
function isElsewise(a: Placed, b: Placed): boolean {
  return (
    a.position !== null &&
    b.position !== null &&
    a.position !== b.position &&
    (a.site === null || b.site === null || a.site === b.site) &&
    (a.side === null || b.side === null || a.side === b.side)
  );
}

function isPressure({ vital, values }: Placed): boolean {
  return vital === 'blood-pressure' && values.systolic !== undefined;
}

function words(reading: Reading, other: Placed, told: string): string {
  return `Pressure ${pressure(reading)} was taken ${reading.position ?? ''}, ${told} ${other.position ?? ''}: the two cannot be compared.`;
}

const ADVICE = 'Keep the position, or name it when the two are looked at together.';

function insideTheSet(pressures: readonly Reading[], windowMs: number): Remark[] {
  return pressures.flatMap((reading, place) =>
    pressures
      .slice(place + 1)
      .filter((other) => isElsewise(reading, other))
      .filter(({ takenAt }) => Math.abs(takenAt.epochMs - reading.takenAt.epochMs) <= windowMs)
      .map((other) => ({
        readings: [reading.index, other.index],
        message: words(reading, other, `${pressure(other)} in the same set`),
        advice: ADVICE,
      })),
  );
}

function againstBefore(
  reading: Reading,
  before: readonly PastReading[],
  windowMs: number,
): readonly Remark[] {
  const last = before
    .filter((past) => isPressure(past) && isUndoubted(past))
    .filter(({ takenAt }) => {
      const agoMs = reading.takenAt.epochMs - takenAt.epochMs;
      return agoMs > 0 && agoMs <= windowMs;
    })
    .at(-1);
  if (last === undefined || !isElsewise(reading, last)) return [];
  const told = `${pressure(last)} at ${timeBefore(last.takenAt, reading.takenAt)}`;
  return [
    {
      readings: [reading.index],
      message: words(reading, last, told),
      discreetMessage: `The pressure was taken ${reading.position ?? ''}, the one before in another position.`,
      advice: ADVICE,
    },
  ];
}

export const positionChanged: AcrossRule = {
  id: 'position-changed',
  stage: 'across',
  verdict: 'noted',
  words: 'Two pressures shortly after each other were taken in two positions.',
  source: POSITION_EFFECT,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ history, limits }: JudgingContext, standing: readonly ReadingFacts[]) => {
    const windowMs = limits.ms('position-changed.window');
    const pressures = standing.map(({ reading }) => reading).filter(isPressure);
    return [
      ...insideTheSet(pressures, windowMs),
      ...pressures.flatMap((reading) => againstBefore(reading, history, windowMs)),
    ];
  },
};
