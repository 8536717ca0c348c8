import { WHOLE_NUMBERS } from '../../vitals/limits-sources.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';
import { amount, listed, sentence, signName } from '../wording.js';

/**
 * Whether a person counted or typed the number: by the method, or because an attended source names no
 * device. The decimals of a device are kept, and a pressure that came in kilopascal is never whole.
 */
function isPersonsNumber(reading: Reading, context: JudgingContext): boolean {
  const { method, device, sentUnit } = reading;
  if (sentUnit === 'kPa') return false;
  if (method === 'counted' || method === 'palpation' || method === 'auscultation') return true;
  return device === null && method !== 'invasive' && context.source.attended;
}

export const valueNotWhole: ReadingRule = {
  id: 'value-not-whole',
  stage: 'reading',
  verdict: 'rejected',
  words: 'A person counted or typed decimals where the sign is read in whole numbers.',
  source: WHOLE_NUMBERS,
  since: 1,
  appliesTo: ['respiratory-rate', 'pulse-rate', 'oxygen-saturation', 'blood-pressure'],
  check: ({ reading, slip, parts }, context) => {
    if (slip !== null || parts.every((part) => isWhole(reading, part))) return NO_REMARKS;
    if (!isPersonsNumber(reading, context)) return NO_REMARKS;
    const names = parts
      .filter((part) => !isWhole(reading, part))
      .map((part) => `${signName(reading.vital, part)} ${amount(reading, part)}`);
    return [
      {
        readings: [reading.index],
        message: `${sentence(listed(names))}: this is read in whole numbers, so a digit or the unit is wrong.`,
        advice: 'Check the number that was typed and send it again.',
      },
    ];
  },
};

function isWhole({ values }: Reading, part: keyof Reading['values']): boolean {
  const measured = values[part];
  return measured === undefined || Number.isInteger(measured.number);
}
