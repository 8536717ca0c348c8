import { MANUAL_SCALE } from '../../vitals/limits-sources-measuring.js';
import type { Reading } from '../../vitals/shapes.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount, listed, sentence, signName } from '../wording.js';

const READ_FROM_SCALE = ['systolic', 'diastolic'] as const;

/** What was read in kilopascal has a scale of its own. */
function isReadInMercury({ method, entered }: Reading): boolean {
  if (method !== 'auscultation') return false;
  return entered === null || !('unit' in entered) || entered.unit === 'mm[Hg]';
}

export const oddLastDigit: ReadingRule = {
  id: 'odd-last-digit',
  stage: 'reading',
  verdict: 'noted',
  words: 'A pressure by stethoscope that lies between the marks of the scale.',
  source: MANUAL_SCALE,
  since: 1,
  appliesTo: ['blood-pressure'],
  check: ({ reading, slip }, { limits }) => {
    if (slip !== null || !isReadInMercury(reading)) return NO_REMARKS;
    const { at: step, source } = limits.setting('odd-last-digit.step');
    const between = READ_FROM_SCALE.filter((part) => {
      const value = reading.values[part]?.number;
      return value !== undefined && Number.isInteger(value) && value % step !== 0;
    });
    if (between.length === 0) return NO_REMARKS;
    const told = between.map((part) => `${signName(reading.vital, part)} ${amount(reading, part)}`);
    return [
      {
        readings: [reading.index],
        message: `${sentence(listed(told))}: a scale with a mark every ${step} mmHg does not show that.`,
        advice: 'Read the scale to the nearest mark; name the method if a machine measured.',
        figures: { limit: step, unit: 'mm[Hg]' },
        sources: [source],
      },
    ];
  },
};
