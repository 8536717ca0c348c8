/** Changing a setting changes what is said: no number of a rule is left behind in the code. */
import { agesKey } from '../../src/vitals/age-span.js';
import { PLAUSIBLE_DEFAULTS, plausibleId, HOLD_AGES } from '../../src/vitals/limits-plausible.js';
import { BAND_DEFAULTS, bandId, beginOf, bySexKey } from '../../src/vitals/limits-bands.js';
import { BAND_CODES } from '../../src/vitals/limits-band.js';
import { buildLimits, DEFAULT_LIMITS, type Limits } from '../../src/vitals/limits.js';
import { findSetting } from '../../src/vitals/settings.js';
import type { JudgingContext, Reading } from '../../src/vitals/shapes.js';
import type { Part, Vital } from '../../src/vitals/words.js';
import { RULES } from '../../src/rules/index.js';
import { runRules } from '../../src/rules/run.js';
import { keptOnBecause, switchFaults } from '../../src/rules/switches.js';
import {
  bornOn,
  contextOf,
  cuffPressure,
  linePressure,
  manualPressure,
  minutesFromNoon,
  oximeterPulse,
  palpatedPulse,
  reading,
  respiratoryRate,
  temperature,
} from './build-context.js';
import { judge } from './judge.js';

const SITE = {
  document: 'Larkfield ward policy',
  section: '3',
  year: 2026,
  standing: 'site',
} as const;

const changed = (id: string, at: number): Limits => buildLimits({ [id]: { at, source: SITE } });

/** What one rule says under some limits: nothing, or verdict and source. */
const said = (rule: string, context: JudgingContext, limits: Limits) =>
  runRules({ ...context, limits })
    .filter((finding) => finding.rule === rule)
    .map(({ verdict, source }) => `${verdict}: ${source}`)
    .join('\n');

type Row = readonly [
  id: string,
  at: number,
  speaks: 'before' | 'after',
  readings: readonly Reading[],
];

const inFuture = (minutes: number) => temperature(36.8, { takenAt: minutesFromNoon(minutes) });
const fahrenheitField = { sentUnit: '[degF]' };
const atNine = { takenAt: minutesFromNoon(9) };

describe('a named setting', () => {
  /** The second column is the site's number; the rule speaks only before or only after the change. */
  const rows: readonly Row[] = [
    ['time-in-future.ahead', 30, 'before', [inFuture(20)]],
    ['fahrenheit-suspected.from', 60, 'before', [temperature(55)]],
    ['fahrenheit-suspected.to', 100, 'before', [temperature(101)]],
    ['celsius-suspected.from', 30, 'before', [temperature(-4, fahrenheitField)]],
    ['celsius-suspected.below', 40, 'before', [temperature(7, fahrenheitField)]],
    ['fraction-suspected.up-to', 0.5, 'before', [reading('oxygen-saturation', { value: 0.9 })]],
    ['kilopascal-suspected.systolic-from', 17, 'before', [cuffPressure([16, 11])]],
    ['kilopascal-suspected.systolic-to', 15, 'before', [cuffPressure([16, 11])]],
    ['kilopascal-suspected.diastolic-from', 12, 'before', [cuffPressure([16, 11])]],
    ['kilopascal-suspected.diastolic-to', 10, 'before', [cuffPressure([16, 11])]],
    ['kilopascal-suspected.from-age', 1200, 'before', [cuffPressure([16, 11])]],
    ['pulse-pressure-narrow.first', 7, 'before', [cuffPressure([88, 80])]],
    ['pulse-pressure-narrow.second', 12, 'before', [cuffPressure([118, 105])]],
    ['pulse-pressure-narrow.third', 24, 'before', [cuffPressure([165, 140])]],
    ['pulse-pressure-narrow.fourth', 40, 'before', [cuffPressure([214, 170])]],
    ['pulse-pressure-narrow.first-step', 120, 'before', [cuffPressure([112, 100])]],
    ['pulse-pressure-narrow.second-step', 170, 'before', [cuffPressure([165, 145])]],
    ['pulse-pressure-narrow.third-step', 230, 'before', [cuffPressure([214, 174])]],
    ['pulse-pressure-wide.from', 170, 'before', [cuffPressure([214, 60])]],
    ['mean-fraction-unusual.low', 0.1, 'before', [cuffPressure([140, 80, 90])]],
    ['mean-fraction-unusual.high', 0.9, 'before', [cuffPressure([140, 80, 130])]],
    [
      'blood-pressure-methods-differ.systolic',
      18,
      'before',
      [manualPressure([134, 80]), cuffPressure([150, 80])],
    ],
    [
      'blood-pressure-methods-differ.diastolic',
      15,
      'before',
      [manualPressure([134, 80]), cuffPressure([134, 92])],
    ],
    [
      'blood-pressure-methods-disagree.systolic',
      40,
      'before',
      [manualPressure([134, 80]), cuffPressure([164, 80])],
    ],
    [
      'blood-pressure-methods-disagree.diastolic',
      30,
      'before',
      [manualPressure([154, 80]), cuffPressure([154, 104])],
    ],
    [
      'blood-pressure-methods-disagree.window',
      12,
      'after',
      [manualPressure([134, 80]), cuffPressure([164, 80], atNine)],
    ],
    ['pulse-methods-differ.difference', 18, 'before', [palpatedPulse(72), oximeterPulse(88)]],
    ['pulse-methods-disagree.difference', 30, 'before', [palpatedPulse(72), oximeterPulse(96)]],
    ['pulse-methods-disagree.half-from', 0.52, 'before', [palpatedPulse(36), oximeterPulse(72)]],
    ['pulse-methods-disagree.half-to', 0.48, 'before', [palpatedPulse(36), oximeterPulse(72)]],
    ['pulse-methods-disagree.double-from', 2.05, 'before', [palpatedPulse(144), oximeterPulse(72)]],
    ['pulse-methods-disagree.double-to', 1.95, 'before', [palpatedPulse(144), oximeterPulse(72)]],
    ['pulse-methods-disagree.window', 12, 'after', [palpatedPulse(72), oximeterPulse(102, atNine)]],
  ];

  it.each(rows)('%s, set to %f, changes what is said', (id, at, speaks, readings) => {
    const rule = id.slice(0, id.indexOf('.'));
    const context = contextOf(readings);
    const [before, after] = [DEFAULT_LIMITS, changed(id, at)].map((limits) =>
      JSON.stringify(
        runRules({ ...context, limits })
          .filter((finding) => finding.rule === rule)
          .map(({ verdict, figures }) => [verdict, figures]),
      ),
    );
    expect(before).not.toBe(after);
    expect(speaks === 'before' ? before : after).not.toBe('[]');
  });

  it.each([
    ['pulse-rate', [palpatedPulse(252), oximeterPulse(260)]],
    ['respiratory-rate', [respiratoryRate(72), respiratoryRate(77, { method: 'impedance' })]],
    ['blood-pressure', [manualPressure([254, 100]), cuffPressure([246, 100])]],
  ] as const)('value-corroborated.%s decides what supports a doubtful value', (sign, readings) => {
    const verdicts = (limits: Limits) =>
      judge({ ...contextOf(readings), limits }).readings[0]?.verdict;
    expect(verdicts(DEFAULT_LIMITS)).toBe('noted');
    expect(verdicts(changed(`value-corroborated.${sign}`, 2))).toBe('held');
  });

  it('value-corroborated.window and .body-temperature do so too', () => {
    const other = { device: { system: 'urn:example:device', value: 'TH-9' } };
    const first = { device: { system: 'urn:example:device', value: 'TH-4' } };
    const verdictOf = (readings: readonly Reading[], limits: Limits) =>
      judge({ ...contextOf(readings, { patient: bornOn('1991-05-23') }), limits }).readings[0]
        ?.verdict;
    const near = [temperature(42.3, first), temperature(42.0, other)];
    expect(verdictOf(near, DEFAULT_LIMITS)).toBe('noted');
    expect(verdictOf(near, changed('value-corroborated.body-temperature', 0.1))).toBe('held');
    const late = [temperature(42.3, first), temperature(42.0, { ...other, ...atNine })];
    expect(verdictOf(late, DEFAULT_LIMITS)).toBe('held');
    const receivedAtMs = minutesFromNoon(10).epochMs;
    const longer = { ...contextOf(late, { patient: bornOn('1991-05-23'), receivedAtMs }) };
    const limits = changed('value-corroborated.window', 12);
    expect(judge({ ...longer, limits }).readings[0]?.verdict).toBe('noted');
  });

  it('gives its own source to the finding', () => {
    const context = contextOf([palpatedPulse(72), oximeterPulse(98)]);
    const limits = changed('pulse-methods-disagree.difference', 22);
    expect(said('pulse-methods-disagree', context, limits)).toBe(
      'held: Larkfield ward policy, 3, 2026 (set by this site)',
    );
  });
});

const BIRTHS = { '0-1y': '2025-09-01', '1y-13y': '2019-02-01', '13y-up': '1991-05-23' };

describe('every bound of plausibility', () => {
  const cells = PLAUSIBLE_DEFAULTS.flatMap((row) =>
    (['rejectBelow', 'holdBelow', 'holdAbove', 'rejectAbove'] as const).flatMap((bound) =>
      HOLD_AGES.flatMap((age) => {
        const ofAge = bound.startsWith('hold') ? age : null;
        const id = plausibleId(row, bound, ofAge);
        if (findSetting(id) === null) return [];
        const birth = BIRTHS[agesKey(age.from, age.until) as keyof typeof BIRTHS];
        return [{ id, row, bound, birth }];
      }),
    ),
  );

  it.each(cells)('$id at $birth', ({ id, row, bound, birth }) => {
    const setting = findSetting(id);
    if (setting === null) throw new Error('no such setting');
    const low = bound.endsWith('Below');
    // A value that just passes the bound, and is caught once the bound is moved in past it.
    // From 0 to 1 % of oxygen reads as a fraction before its size is looked at.
    const value = setting.at === 0 ? 1.4 : setting.at;
    const moved = changed(id, low ? value + 1 : value - 1);
    const method = row.by === 'invasive' ? ('invasive' as const) : null;
    const single = reading(row.vital, { [row.part]: value }, { method });
    const context = contextOf([single], { patient: bornOn(birth) });
    const rule = bound.startsWith('reject') ? 'value-impossible' : 'value-doubtful';
    expect(said(rule, context, DEFAULT_LIMITS)).toBe('');
    expect(said(rule, context, moved)).toContain('Larkfield ward policy');
  });
});

describe('every limit of every band', () => {
  const cells = BAND_DEFAULTS.flatMap((table) =>
    table.rows.flatMap((row) =>
      BAND_CODES.flatMap((code) =>
        bySexKey(row[code]).map(([sex]) => ({
          id: bandId(table, row, sex, code),
          table,
          row,
          sex,
          code,
        })),
      ),
    ),
  );

  it.each(cells)('$id', ({ id, table, row, sex, code }) => {
    const setting = findSetting(id);
    if (setting === null) throw new Error('no such setting');
    const step = table.decimals === 0 ? 1 : 0.1;
    // The limit itself belongs to its code: moved one step on, it no longer does.
    const outwards = code === 'criticalLow' || code === 'high' ? -step : step;
    const begin = beginOf(table.rows, row);
    const birth = birthOf(begin);
    const gender = sex === 'any' ? 'female' : sex;
    const context = contextOf([numberOf(table.vital, table.part, setting.at)], {
      patient: bornOn(birth, gender),
    });
    const codeUnder = (limits: Limits) =>
      judge({ ...context, limits }).readings[0]?.interpretation[table.part];
    const before = codeUnder(DEFAULT_LIMITS);
    expect(before).toBe({ criticalLow: 'LL', low: 'N', high: 'N', criticalHigh: 'HH' }[code]);
    const after = codeUnder(changed(id, setting.at + outwards));
    expect(after).not.toBe(before);
  });

  /** Someone who has just come into a band at noon of 2026-03-14. */
  function birthOf(begin: { days: number } | { months: number } | null): string {
    if (begin === null) return '2026-03-14';
    const born =
      'days' in begin
        ? new Date(Date.UTC(2026, 2, 14 - begin.days))
        : new Date(Date.UTC(2026, 2 - begin.months, 14));
    return born.toISOString().slice(0, 10);
  }

  function numberOf(vital: Vital, part: Part, value: number): Reading {
    const method = vital === 'blood-pressure' ? ('invasive' as const) : null;
    return reading(vital, { [part]: value }, { method });
  }
});

describe('rules that a site switches off', () => {
  const off = (rule: string) => buildLimits({}, [rule]);
  const wide = contextOf([linePressure([214, 60])]);

  it('are not heard', () => {
    expect(said('pulse-pressure-wide', wide, DEFAULT_LIMITS)).not.toBe('');
    expect(said('pulse-pressure-wide', wide, off('pulse-pressure-wide'))).toBe('');
  });

  it('are rules that note, and not all of those', () => {
    expect(
      RULES.filter((rule) => rule.verdict !== 'noted' && keptOnBecause(rule) === null),
    ).toEqual([]);
    const kept = ['value-critical', 'age-unknown', 'mean-outside-pressures', 'value-confirmed'];
    for (const id of kept) {
      expect(switchFaults({ rules: { [id]: { enabled: false } } })).toHaveLength(1);
      expect(switchFaults({ rules: { [id]: { enabled: true } } })).toEqual([]);
    }
    expect(switchFaults({ rules: { 'pulse-pressure-wide': { enabled: false } } })).toEqual([]);
  });

  it('must exist, and may not reject or hold', () => {
    expect(
      switchFaults({
        rules: {
          'value-impossible': { enabled: false },
          'value-doubtful': { enabled: false },
          'no/such~rule': { enabled: true },
        },
      }),
    ).toEqual([
      {
        pointer: '/rules/value-impossible/enabled',
        message: 'value-impossible cannot be switched off: it rejects: change its limits instead',
      },
      {
        pointer: '/rules/value-doubtful/enabled',
        message: 'value-doubtful cannot be switched off: it holds: change its limits instead',
      },
      { pointer: '/rules/no~1such~0rule', message: 'there is no rule of the name "no/such~rule"' },
    ]);
  });
});

describe('age-unknown', () => {
  const ageless = bornOn(null);
  const unknowns = (readings: readonly Reading[], patient = ageless) =>
    runRules(contextOf(readings, { patient })).filter(({ rule }) => rule === 'age-unknown');

  it('is one note on every reading that would have had a code', () => {
    const findings = unknowns([
      palpatedPulse(72),
      reading('body-weight', { value: 70 }),
      linePressure([null, null, 80]),
      cuffPressure([null, 70]),
      temperature(36.8),
    ]);
    expect(findings.map(({ verdict, readings }) => [verdict, readings])).toEqual([
      ['noted', [0, 3, 4]],
    ]);
    expect(findings[0]?.message).toContain('is not registered');
  });

  it('speaks where a birth year leaves two bands open, and only there', () => {
    // Fleming 2011 and NEWS2 2017 have other bands at 5 than at 6 years; none between 55 and 56.
    expect(unknowns([palpatedPulse(72)], bornOn('2020'))[0]?.message).toContain('too loosely');
    expect(unknowns([palpatedPulse(72)], bornOn('1970'))).toEqual([]);
    expect(unknowns([temperature(36.8)], bornOn('2020'))).toEqual([]);
    expect(unknowns([palpatedPulse(72)], bornOn('1970-05-02'))).toEqual([]);
  });

  it('leaves it to the identity rules where it is in doubt who it is', () => {
    expect(runRules(contextOf([palpatedPulse(72)], { patient: null })).map((f) => f.rule)).toEqual([
      'patient-unknown',
    ]);
    expect(unknowns([palpatedPulse(72)], bornOn('2027-01-01'))).toEqual([]);
    const encounterOfAnother = { patient: bornOn('1970-05-02'), encounterOfAnother: true };
    const rules = runRules(contextOf([palpatedPulse(72)], encounterOfAnother)).map((f) => f.rule);
    expect(rules).toContain('patient-mismatch');
    expect(rules).not.toContain('age-unknown');
  });

  it('gives no code and no adult limit: an infant may have this pulse', () => {
    const judged = judge(contextOf([palpatedPulse(128)], { patient: ageless }));
    expect(judged.readings[0]).toMatchObject({
      verdict: 'noted',
      interpretation: {},
      critical: false,
      status: 'final',
    });
  });
});
