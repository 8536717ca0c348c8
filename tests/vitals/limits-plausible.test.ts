/** Reject and hold bounds against the figures of the sources, and against the critical limits. */
import { ageAt, type Age } from '../../src/vitals/age.js';
import { isCritical } from '../../src/vitals/interpret.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import type { PlausibleLimits } from '../../src/vitals/limits-plausible.js';
import { sourceText } from '../../src/vitals/limits-sources.js';
import type { Method, Part, Vital } from '../../src/vitals/words.js';
import { NOON, reading } from '../rules/build-context.js';

const born = (birthDate: string): Age => {
  const age = ageAt(birthDate, NOON);
  if (age === null) throw new Error('no age');
  return age;
};
const AGES = {
  newborn: born('2026-03-01'),
  infant: born('2025-03-15'),
  'child of 1': born('2025-03-14'),
  'child of 12': born('2013-03-15'),
  'youth of 13': born('2013-03-14'),
  adult: born('1961-05-23'),
};

type Sign = Exclude<Vital, 'consciousness'>;
interface Number_ {
  readonly vital: Sign;
  readonly part: Part;
  readonly method: Method | null;
}
const value = (vital: Sign): Number_ => ({ vital, part: 'value', method: null });
const pressure = (part: Part, method: Method): Number_ => ({
  vital: 'blood-pressure',
  part,
  method,
});

const figures = ({ rejectBelow, holdBelow, holdAbove, rejectAbove }: PlausibleLimits) =>
  [rejectBelow, holdBelow, holdAbove, rejectAbove].map((each) => each?.at ?? null);

const ofAge = ({ vital, part, method }: Number_, age: Age | null) =>
  DEFAULT_LIMITS.plausible(vital, part, method, age);

/**
 * Reject below, hold below, hold above, reject above. MIMIC-III benchmark 2019: pulse 350, temperature 26
 * and 47, invasive pressure 375, height 275, weight 250. ricu 0.6.3: systolic 300, mean 250, saturation
 * 50 and 100, temperature 42, height 230. OHDSI 2022: systolic 250, diastolic 200, mean 10, weight 0.198
 * and 680, height 20. MIMIC Code: temperature 10, breathing 70. FDA K212665, K202173: pulse 25 and 250.
 * Salmasi 2017 (from memory, unconfirmed): systolic 20, diastolic 225. Others are proposed, no source.
 */
const ADULT_BOUNDS: readonly (readonly [string, Number_, readonly (number | null)[]])[] = [
  ['systolic by cuff', pressure('systolic', 'oscillometry'), [20, 40, 250, 300]],
  ['systolic by stethoscope', pressure('systolic', 'auscultation'), [20, 40, 250, 300]],
  ['systolic by line', pressure('systolic', 'invasive'), [1, 40, 250, 375]],
  ['diastolic', pressure('diastolic', 'oscillometry'), [0, 20, 200, 225]],
  ['mean', pressure('mean', 'invasive'), [10, 30, 190, 250]],
  ['pulse', value('pulse-rate'), [0, 25, 250, 350]],
  ['breathing', value('respiratory-rate'), [0, 1, 70, 150]],
  ['saturation', value('oxygen-saturation'), [0, 50, null, 100]],
  ['temperature', value('body-temperature'), [10, 26, 42, 47]],
  ['weight', value('body-weight'), [0.2, 0.4, 250, 680]],
  ['height', value('body-height'), [20, 25, 230, 275]],
  ['oxygen flow', value('oxygen-flow'), [0, null, 70, 150]],
  ['inspired oxygen', value('inspired-oxygen'), [10, 20, null, 100]],
];

describe('plausible limits', () => {
  it.each(ADULT_BOUNDS)('%s of an adult', (_name, number, expected) => {
    expect(figures(ofAge(number, AGES.adult))).toEqual(expected);
  });

  /** Proposed; breathing 100 after OHDSI 2022, infant diastolic and mean after Versmold 1981. */
  const byAge = [
    ['breathing', value('respiratory-rate'), [1, 100], [1, 80], [1, 70], [1, 100]],
    ['pulse', value('pulse-rate'), [50, 250], [40, 250], [25, 250], [25, 250]],
    ['systolic', pressure('systolic', 'oscillometry'), [25, 150], [45, 200], [40, 250], [25, 250]],
    [
      'systolic by line',
      pressure('systolic', 'invasive'),
      [25, 150],
      [45, 200],
      [40, 250],
      [25, 250],
    ],
    [
      'diastolic',
      pressure('diastolic', 'oscillometry'),
      [10, 200],
      [20, 200],
      [20, 200],
      [10, 200],
    ],
    ['mean', pressure('mean', 'oscillometry'), [15, 190], [30, 190], [30, 190], [15, 190]],
  ] as const;

  it.each(byAge)('%s: hold bounds by age, the widest where it is unknown', (...row) => {
    const [, number, infant, child, adult, unknown] = row;
    const holds = (age: Age | null) => figures(ofAge(number, age)).slice(1, 3);
    expect(holds(AGES.newborn)).toEqual(infant);
    expect(holds(AGES.infant)).toEqual(infant);
    expect(holds(AGES['child of 1'])).toEqual(child);
    expect(holds(AGES['child of 12'])).toEqual(child);
    expect(holds(AGES['youth of 13'])).toEqual(adult);
    expect(holds(AGES.adult)).toEqual(adult);
    expect(holds(null)).toEqual(unknown);
  });

  it('takes the widest where a birth year leaves two bands open', () => {
    const between = born('2025');
    expect(figures(ofAge(value('pulse-rate'), between))).toEqual([0, 25, 250, 350]);
  });

  describe.each([...Object.entries(AGES), ['unknown', null] as const])(
    'at age: %s',
    (_name, age) => {
      it.each(ADULT_BOUNDS)('%s: bounds in rising order, each with its source', (_sign, number) => {
        const limits = ofAge(number, age);
        const told = figures(limits).filter((each) => each !== null);
        expect(told).toEqual([...told].sort((a, b) => a - b));
        for (const limit of Object.values(limits)) {
          if (limit !== null) expect(sourceText(limit.source)).not.toBe('');
        }
      });

      const classic = ADULT_BOUNDS.filter(([name]) => !/weight|height|oxygen/.test(name));

      it.each(classic)(
        '%s: what is doubted is critical too, so it is never kept back',
        (_s, number) => {
          const { holdBelow, holdAbove } = ofAge(number, age);
          const resolution = number.vital === 'body-temperature' ? 0.1 : 1;
          const critical = (at: number) =>
            isCritical(
              reading(number.vital, { [number.part]: at }, { method: number.method }),
              age,
              null,
              DEFAULT_LIMITS,
            );
          if (holdBelow !== null) expect(critical(holdBelow.at - resolution)).toBe(true);
          if (holdAbove !== null) expect(critical(holdAbove.at + resolution)).toBe(true);
        },
      );
    },
  );
});

describe('sourceText', () => {
  it('says how firm a source is', () => {
    const { rejectBelow, holdBelow, rejectAbove } = ofAge(
      pressure('systolic', 'oscillometry'),
      AGES.adult,
    );
    expect(
      [rejectBelow, holdBelow, rejectAbove].map((limit) => limit && sourceText(limit.source)),
    ).toEqual([
      'Salmasi et al. 2017, after Mascha et al. 2015, artefact rule for arterial pressure, 2017 (from memory, unconfirmed)',
      'Common practice, no source; the figure is proposed',
      'ricu concept dictionary 0.6.3, commit c0efac7',
    ]);
  });
});
