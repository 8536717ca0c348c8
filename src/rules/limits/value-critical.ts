import { criticalValues, type CriticalValue } from '../../vitals/interpret.js';
import { NEWS2 } from '../../vitals/limits-sources.js';
import type { JudgingContext, Reading } from '../../vitals/shapes.js';
import type { AcrossRule, ReadingFacts, Remark } from '../rule.js';
import { amount, listed, sentence, signName, withUnit } from '../wording.js';

const ADVICE = 'Look at the patient, measure again, and call for help as local policy says.';

function clause(reading: Reading, { part, low, limit, ages }: CriticalValue): string {
  const bound = withUnit(limit.at, reading.vital);
  return (
    `${signName(reading.vital, part)} ${amount(reading, part)} is critically ${low ? 'low' : 'high'} ` +
    `(${bound} or ${low ? 'less' : 'more'}, ${ages ?? 'at every age'})`
  );
}

function remarkOnValues(reading: Reading, values: readonly CriticalValue[]): Remark {
  const [first] = values;
  return {
    readings: [reading.index],
    message: `${sentence(listed(values.map((value) => clause(reading, value))))}.`,
    advice: ADVICE,
    sources: values.map(({ limit }) => limit.source),
    ...(first === undefined
      ? {}
      : {
          figures: {
            value: reading.values[first.part]?.number ?? 0,
            limit: first.limit.at,
            unit: reading.unit ?? '',
          },
        }),
  };
}

function findRemark({ reading, age }: ReadingFacts, context: JudgingContext): Remark | null {
  if (reading.code !== null && reading.code !== 'alert') {
    return {
      readings: [reading.index],
      message: `Consciousness "${reading.code}" is other than alert, which counts as critical.`,
      advice: ADVICE,
    };
  }
  const values = criticalValues(reading, age, context.patient?.gender ?? null, context.limits);
  return values.length === 0 ? null : remarkOnValues(reading, values);
}

/** Speaks of standing readings only: what cannot be a measurement is nothing to call for help about. */
export const valueCritical: AcrossRule = {
  id: 'value-critical',
  stage: 'across',
  verdict: 'noted',
  words: 'The value calls for help at once: critically low or high, or a patient who is not alert.',
  source: NEWS2,
  since: 1,
  appliesTo: [
    'respiratory-rate',
    'pulse-rate',
    'oxygen-saturation',
    'blood-pressure',
    'body-temperature',
    'consciousness',
  ],
  check: (context, standing) => {
    const remarks: Remark[] = [];
    for (const facts of standing) {
      const remark = findRemark(facts, context);
      if (remark !== null) remarks.push(remark);
    }
    return remarks;
  },
};
