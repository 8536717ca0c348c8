import { isAtLeast, type Age } from '../../vitals/age-span.js';
import { interpretReading } from '../../vitals/interpret.js';
import { IDSA_FEVER } from '../../vitals/limits-sources-measuring.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import { median, ownValues, withoutNoise } from '../own-values.js';
import type { AcrossRule, Remark } from '../rule.js';
import { amount } from '../wording.js';

const ADVICE =
  'Think of an infection. The old often have no fever with one: its absence proves nothing.';

/** Which of the criteria is met, in words, and its figures; null: none. */
function findCriterion(
  reading: Reading,
  { history, limits }: JudgingContext,
): Pick<Remark, 'message' | 'discreetMessage' | 'figures'> | null {
  const value = reading.values.value?.number;
  if (value === undefined) return null;
  const told = `Body temperature ${amount(reading, 'value')}`;
  const met = (limit: number, message: string): Pick<Remark, 'message' | 'figures'> => ({
    message: `${told} ${message}.`,
    figures: { value, limit, unit: 'Cel' },
  });
  const single = limits.at(
    reading.site === 'rectal' ? 'fever-in-old-age.rectal' : 'fever-in-old-age.oral',
  );
  if ((reading.site === 'oral' || reading.site === 'rectal') && value > single) {
    return met(single, `is above ${single} °C, in old age a fever at this site`);
  }
  const own = ownValues(reading, 'value', history, limits.ms('blood-pressure-changed.own-window'));
  const repeated = limits.at('fever-in-old-age.oral-repeated');
  if (reading.site === 'oral' && value > repeated && (own.at(-1)?.value ?? 0) > repeated) {
    return {
      ...met(repeated, `and the one before are above ${repeated} °C, in old age a fever`),
      discreetMessage: `${told} is, with earlier ones, a fever in old age.`,
    };
  }
  if (own.length < limits.at('blood-pressure-changed.own-values')) return null;
  const rise = withoutNoise(value - median(own.map((one) => one.value)));
  const limit = limits.at('fever-in-old-age.over-baseline');
  if (rise <= limit) return null;
  return {
    ...met(
      limit,
      `is ${rise} °C above the median of ${own.length} earlier ones, in old age a fever`,
    ),
    discreetMessage: `${told} is, with earlier ones, a fever in old age.`,
  };
}

/** Then the interpretation code says it already. */
function isToldAsHigh(
  reading: Reading,
  age: Age | null,
  { patient, limits }: JudgingContext,
): boolean {
  const code = interpretReading(reading, age, patient?.gender ?? null, limits).value;
  return code === 'H' || code === 'HH';
}

export const feverInOldAge: AcrossRule = {
  id: 'fever-in-old-age',
  stage: 'across',
  verdict: 'noted',
  words: 'A usual temperature that is a fever by the criteria for residents of long-term care.',
  source: IDSA_FEVER,
  since: 1,
  appliesTo: ['body-temperature'],
  check: (context, standing) => {
    const months = context.limits.at('fever-in-old-age.from-age');
    return standing.flatMap(({ reading, age, slip }) => {
      if (reading.vital !== 'body-temperature' || slip !== null) return [];
      if (!isAtLeast(age, months) || isToldAsHigh(reading, age, context)) return [];
      const found = findCriterion(reading, context);
      return found === null ? [] : [{ readings: [reading.index], advice: ADVICE, ...found }];
    });
  },
};
