import { DRINK_BEFORE_ORAL } from '../../vitals/limits-sources-measuring.js';
import { NO_REMARKS, type ReadingRule } from '../rule.js';

export const drinkBeforeOral: ReadingRule = {
  id: 'drink-before-oral',
  stage: 'reading',
  verdict: 'noted',
  words: 'An oral temperature soon after a hot or cold drink.',
  source: DRINK_BEFORE_ORAL,
  since: 1,
  appliesTo: ['body-temperature'],
  check: ({ reading }, { limits }) => {
    if (reading.site !== 'oral') return NO_REMARKS;
    const { minutesSinceColdDrink, minutesSinceHotDrink } = reading.context;
    const drinks = [
      ['cold', minutesSinceColdDrink, limits.setting('drink-before-oral.cold'), 'low'],
      ['hot', minutesSinceHotDrink, limits.setting('drink-before-oral.hot'), 'high'],
    ] as const;
    return drinks.flatMap(([kind, minutes, { at: limit, source }, reads]) =>
      minutes === undefined || minutes >= limit
        ? []
        : [
            {
              readings: [reading.index],
              message: `Taken in the mouth ${minutes} min after a ${kind} drink: within ${limit} min it may read too ${reads}.`,
              advice:
                'Wait without eating, drinking or smoking, or use another site, and measure again.',
              figures: { value: minutes, limit, unit: 'min' },
              sources: [source],
            },
          ],
    );
  },
};
