import type { Reading, ReadingContext } from '../../src/vitals/shapes.js';
import {
  bornOn,
  contextOf,
  cuffPressure,
  kept,
  manualPressure,
  minutesFromNoon,
  palpatedPulse,
  past,
  respiratoryRate,
  temperature,
} from './build-context.js';
import { findingsOf, judge, speaks } from './judge.js';

const withContext = (context: ReadingContext, of: Reading = cuffPressure([128, 76])): Reading => ({
  ...of,
  context,
});

/**
 * AHA 2005 and 2019 (seen in secondary copies): 22-26 cm small adult, 27-34 adult, 35-44 large adult,
 * 45-52 thigh. The table typed again.
 */
describe('cuff-too-small and cuff-too-large', () => {
  const fit = (cuffSize: ReadingContext['cuffSize'], armCircumferenceCm: number): string => {
    const used = withContext({ ...(cuffSize && { cuffSize }), armCircumferenceCm });
    if (speaks('cuff-too-small', used)) return 'small';
    return speaks('cuff-too-large', used) ? 'large' : 'fits';
  };

  it.each([
    ['small-adult', 22, 26],
    ['adult', 27, 34],
    ['large-adult', 35, 44],
    ['thigh', 45, 52],
  ] as const)('%s fits from %i to %i cm', (cuff, from, to) => {
    expect([from - 1, from, to, to + 1].map((arm) => fit(cuff, arm))).toEqual([
      'large',
      'fits',
      'fits',
      'small',
    ]);
  });

  it('leaves no gap between the rows: the table is in whole centimetres', () => {
    expect([fit('small-adult', 26.4), fit('small-adult', 26.5)]).toEqual(['fits', 'small']);
    expect([fit('adult', 26.4), fit('adult', 26.5)]).toEqual(['large', 'fits']);
  });

  it('knows a cuff for children as too small for an adult’s arm, and nothing more of it', () => {
    expect([fit('child', 21), fit('child', 22), fit('infant', 30)]).toEqual([
      'fits',
      'small',
      'small',
    ]);
    expect(fit('infant', 8)).toBe('fits');
  });

  it('says which way the pressure errs, by a note', () => {
    const context = contextOf([withContext({ cuffSize: 'adult', armCircumferenceCm: 38 })]);
    const [finding] = findingsOf('cuff-too-small', context);
    expect(finding).toMatchObject({ verdict: 'noted', figures: { value: 38, limit: 34 } });
    expect(finding?.message).toContain('too high');
    expect(judge(context).readings[0]?.status).toBe('final');
  });

  it('is silent without circumference, and about a cuff elsewhere', () => {
    expect(speaks('cuff-too-small', withContext({ cuffSize: 'child' }))).toBe(false);
    const thigh = { ...withContext({ cuffSize: 'adult', armCircumferenceCm: 50 }), site: 'thigh' };
    expect(speaks('cuff-too-small', thigh as Reading)).toBe(false);
  });
});

/** Pickering 2005: 2 mmHg an inch, 0.79 mmHg a centimetre. */
describe('arm-not-at-heart-level', () => {
  it.each([
    [{ armAtHeartLevel: false }, true],
    [{ armAtHeartLevel: true }, false],
    [{}, false],
  ])('%o', (context, spoken) => {
    expect(speaks('arm-not-at-heart-level', withContext(context))).toBe(spoken);
  });
});

/** AHA/ACC: inflate 20 to 30 mmHg above the systolic (secondary copies). */
describe('inflation-too-low', () => {
  it.each([
    [158, 138, false],
    [157, 138, true],
    [130, 138, true],
  ])('%i for a systolic of %i', (inflatedTo, systolic, spoken) => {
    const used = withContext({ inflatedTo }, manualPressure([systolic, 80]));
    expect(speaks('inflation-too-low', used)).toBe(spoken);
  });
});

/** University of Virginia: 15 min after a cold, 23 min after a hot drink to baseline; 15 and 25 proposed. */
describe('drink-before-oral', () => {
  it.each([
    [{ minutesSinceColdDrink: 14 }, 'oral', 'low'],
    [{ minutesSinceColdDrink: 15 }, 'oral', null],
    [{ minutesSinceHotDrink: 24 }, 'oral', 'high'],
    [{ minutesSinceHotDrink: 25 }, 'oral', null],
    [{ minutesSinceHotDrink: 3 }, 'tympanic', null],
    [{}, 'oral', null],
  ] as const)('%o, %s', (context, site, reads) => {
    const used = withContext(context, temperature(36.9, { site }));
    const [finding] = findingsOf('drink-before-oral', contextOf([used]));
    expect(finding?.message.includes(`too ${String(reads)}`) ?? null).toBe(
      reads === null ? null : true,
    );
  });
});

const counted = (of: (value: number) => Reading, count: number, seconds: number): Reading => ({
  ...of((count * 60) / seconds),
  entered: { count, seconds },
});

/** Adult 30 s at least (by arithmetic: 15 s tell a rate to 4 a minute); a child under five 60 s (Arch Dis Child 1991). */
describe('breath-count-short', () => {
  it.each([
    ['1961-05-23', 15, true],
    ['1961-05-23', 30, false],
    // Five years on the day of the reading, and one day before that.
    ['2021-03-14', 30, false],
    ['2021-03-15', 30, true],
    ['2021-03-15', 60, false],
    ['2021', 30, true],
    ['2020', 30, false],
  ])('born %s, %i s', (birthDate, seconds, spoken) => {
    const of = counted(respiratoryRate, seconds / 3, seconds);
    expect(speaks('breath-count-short', of, { patient: bornOn(birthDate) })).toBe(spoken);
  });

  it('holds an unknown age to no more than everybody', () => {
    const patient = bornOn(null);
    expect(speaks('breath-count-short', counted(respiratoryRate, 10, 30), { patient })).toBe(false);
    expect(speaks('breath-count-short', counted(respiratoryRate, 5, 15), { patient })).toBe(true);
  });

  it('is silent about a rate whose window is not told', () => {
    expect(speaks('breath-count-short', respiratoryRate(20))).toBe(false);
  });
});

/** NICE NG136 1.1.2; Rajkumar 2019: 30 s significantly less accurate than 60 s. */
describe('irregular-count-short', () => {
  it.each([
    [false, 30, true],
    [false, 60, false],
    [true, 30, false],
    [undefined, 30, false],
  ])('regular %s, %i s', (regular, seconds, spoken) => {
    const pulse = counted(palpatedPulse, seconds, seconds);
    const context = regular === undefined ? {} : { regular };
    expect(speaks('irregular-count-short', { ...pulse, context })).toBe(spoken);
  });
});

/** NICE NG136 1.1.2: automatic devices may be wrong where the pulse is irregular. */
describe('irregular-by-cuff-only', () => {
  const irregular = palpatedPulse(88, { context: { regular: false } });
  const heard = (readings: readonly Reading[], earlier: readonly Reading[] = []) =>
    findingsOf(
      'irregular-by-cuff-only',
      contextOf(readings, { earlier: earlier.map((each) => kept(each)) }),
    ).map((finding) => finding.readings);

  it('notes the pressure by cuff', () => {
    expect(heard([irregular, cuffPressure([130, 80])])).toEqual([[1]]);
    expect(heard([cuffPressure([130, 80])], [irregular])).toEqual([[0]]);
  });

  it('is silent beside one by stethoscope, in the set or shortly before', () => {
    expect(heard([irregular, cuffPressure([130, 80]), manualPressure([134, 80])])).toEqual([]);
    expect(heard([irregular, cuffPressure([130, 80])], [manualPressure([134, 80])])).toEqual([]);
  });

  it('is silent about a regular pulse, and one further away', () => {
    expect(heard([palpatedPulse(88), cuffPressure([130, 80])])).toEqual([]);
    const before = { ...irregular, takenAt: minutesFromNoon(-5.01) };
    expect(heard([cuffPressure([130, 80])], [before])).toEqual([]);
  });
});

/** J Hum Hypertens 2003: supine less sitting 9.5 +- 9.0 systolic, so the position must be known. */
describe('position-changed', () => {
  const sitting = cuffPressure([132, 84], { position: 'sitting' });
  const standing = cuffPressure([117, 80], { position: 'standing' });
  const after = (minutes: number, now: Reading = standing, before: Reading = sitting): boolean =>
    findingsOf('position-changed', contextOf([now], { history: [past(before, minutes)] })).length >
    0;

  it('speaks up to half an hour after', () => {
    expect([after(30), after(31)]).toEqual([true, false]);
  });

  it('speaks of two in one set, once', () => {
    const found = findingsOf('position-changed', contextOf([sitting, standing]));
    expect(found.map((finding) => finding.readings)).toEqual([[0, 1]]);
  });

  it('is silent about the same position, one not told, and the other arm', () => {
    expect(after(10, sitting)).toBe(false);
    expect(after(10, { ...standing, position: null })).toBe(false);
    expect(after(10, { ...standing, side: 'left' }, { ...sitting, side: 'right' })).toBe(false);
  });

  it('is a note', () => {
    const context = contextOf([standing], { history: [past(sitting, 5)] });
    expect(findingsOf('position-changed', context)[0]).toMatchObject({
      verdict: 'noted',
      message:
        'Pressure 117/80 mmHg was taken standing, 132/84 mmHg at 11:55 sitting: the two cannot be compared.',
    });
  });
});
