import { NEWS2 } from '../../vitals/limits-sources.js';
import type { EarlierReading, JudgingContext, Reading } from '../../vitals/shapes.js';
import { areNear, isComparable, keptAt } from '../pairs.js';
import { NO_REMARKS, type AcrossRule, type ReadingFacts, type Remark } from '../rule.js';
import { amount } from '../wording.js';

const ADVICE =
  'Read the two together, and tell whoever looks after the patient as local policy says.';

interface Given {
  readonly reading: Reading;
  readonly earlier: EarlierReading | null;
}

/** Oxygen beyond that of air: a flow, or a concentration above it. */
function isGiven({ limits }: JudgingContext, { vital, values }: Reading): boolean {
  const value = values.value?.number ?? 0;
  return (
    (vital === 'oxygen-flow' && value > 0) ||
    (vital === 'inspired-oxygen' && value > limits.at('inspired-oxygen-without-flow.inspired'))
  );
}

/** The oxygen told nearest in time to the saturation: of the set, else what was sent before. */
function findGiven(
  context: JudgingContext,
  standing: readonly ReadingFacts[],
  saturation: Reading,
): Given | null {
  const windowMs = context.limits.ms('saturation-low-on-oxygen.window');
  const isGivenThen = (reading: Reading): boolean =>
    areNear(reading, saturation, windowMs) && isGiven(context, reading);
  const own = standing.find(({ reading }) => isGivenThen(reading));
  if (own !== undefined) return { reading: own.reading, earlier: null };
  const kept = context.earlier.findLast((each) => isComparable(each) && isGivenThen(each));
  return kept === undefined ? null : { reading: kept, earlier: kept };
}

function remark(saturation: Reading, { reading, earlier }: Given, below: number): Remark {
  return {
    readings: [saturation.index],
    ...(earlier !== null && { earlier: [earlier.readingId] }),
    message: `Oxygen saturation ${amount(saturation, 'value')} was measured while oxygen was given (${amount(reading, 'value')}${keptAt(reading, earlier)}): it is not to be compared with one on air.`,
    ...(earlier !== null && {
      discreetMessage: `Oxygen saturation ${amount(saturation, 'value')} was measured while oxygen was given, as was sent before.`,
    }),
    advice: ADVICE,
    figures: { value: saturation.values.value?.number ?? 0, limit: below, unit: '%' },
  };
}

/** Names the saturation only: about the oxygen given there is nothing to doubt. */
export const saturationLowOnOxygen: AcrossRule = {
  id: 'saturation-low-on-oxygen',
  stage: 'across',
  verdict: 'noted',
  words: 'The saturation is low although oxygen is given, which tells more than the same on air.',
  source: NEWS2,
  since: 1,
  appliesTo: ['oxygen-saturation'],
  check: (context, standing) => {
    const remarks: Remark[] = [];
    const { at: below, source } = context.limits.setting('saturation-low-on-oxygen.below');
    for (const { reading } of standing) {
      const value = reading.values.value?.number;
      if (reading.vital !== 'oxygen-saturation' || value === undefined || value >= below) continue;
      const given = findGiven(context, standing, reading);
      if (given !== null) remarks.push({ ...remark(reading, given, below), sources: [source] });
    }
    return remarks.length === 0 ? NO_REMARKS : remarks;
  },
};
