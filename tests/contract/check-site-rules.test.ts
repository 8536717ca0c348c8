/** A site's configuration: every fault of its form and of its sense, in words that a person can act on. */
import { checkSiteRules } from '../../src/contract/compile.js';
import { PUBLISHED_SCHEMAS } from '../../src/contract/schemas.js';
import { readSiteRules } from '../../src/site-rules/read-site-rules.js';
import { SANE_RANGES } from '../../src/vitals/setting.js';

const source = { document: 'Larkfield ward policy', section: '3.2', year: 2026, note: 'Agreed.' };
const DIFFERENCE = 'pulse-methods-disagree.difference';
const HOLD_ABOVE = 'plausible.pulse-rate.value.any.13y-up.holdAbove';

const configuration = {
  name: 'Larkfield, spring',
  settings: {
    [DIFFERENCE]: { at: 24, unit: '/min', source },
    [HOLD_ABOVE]: { at: 220, unit: '/min', source: { document: 'Ward book', section: '1' } },
  },
  rules: { 'pulse-pressure-wide': { enabled: false }, 'value-doubtful': { enabled: true } },
};

const withSetting = (id: string, setting: unknown) => ({
  ...configuration,
  settings: { ...configuration.settings, [id]: setting },
});

/** Faults as "pointer: words". */
const faultsOf = (value: unknown): readonly string[] => {
  const read = readSiteRules(value);
  return read.ok ? [] : read.faults.map(({ pointer, message }) => `${pointer}: ${message}`);
};

describe('a configuration without fault', () => {
  it('becomes limits and switches', () => {
    const read = readSiteRules(configuration);
    if (!read.ok) throw new Error(JSON.stringify(read.faults));
    expect(read.rules).toBe(configuration);
    expect(read.limits.setting(DIFFERENCE)).toEqual({
      at: 24,
      source: {
        document: 'Larkfield ward policy',
        section: '3.2',
        year: 2026,
        standing: 'site',
      },
    });
    expect(read.limits.plausible('pulse-rate', 'value', null, null).holdAbove?.at).toBe(250);
    expect([...read.limits.disabledRules]).toEqual(['pulse-pressure-wide']);
  });

  it('may change nothing', () => {
    expect(readSiteRules({ name: 'As it comes', settings: {} }).ok).toBe(true);
  });

  it('knows the units that settings are told in', () => {
    const units = (
      PUBLISHED_SCHEMAS['site-rules'] as unknown as {
        $defs: { setting: { properties: { unit: { enum: string[] } } } };
      }
    ).$defs.setting.properties.unit.enum;
    expect([...units].sort()).toEqual(Object.keys(SANE_RANGES).sort());
  });
});

describe('faults of the form', () => {
  const pointer = `/settings/${DIFFERENCE}`;
  const setting = { at: 24, unit: '/min', source };

  it.each([
    ['no object', [], ': must be an object'],
    ['no name', { settings: {} }, ': "name" is missing'],
    ['a blank name', { name: ' ', settings: {} }, '/name: must be one line of text'],
    ['an unknown member', { ...configuration, limits: {} }, '/limits: "limits" is not a member'],
    [
      'a setting that there is not, by name',
      withSetting('pulse-methods-disagree.gap', setting),
      '/settings/pulse-methods-disagree.gap: there is no setting "pulse-methods-disagree.gap"',
    ],
    [
      'no source',
      withSetting(DIFFERENCE, { at: 24, unit: '/min' }),
      `${pointer}: "source" is missing`,
    ],
    [
      'a source without a section',
      withSetting(DIFFERENCE, { ...setting, source: { document: 'Ward book' } }),
      `${pointer}/source: "section" is missing`,
    ],
    [
      'a unit that is none',
      withSetting(DIFFERENCE, { ...setting, unit: 'bpm' }),
      `${pointer}/unit: must be one of /min, %, mm[Hg]`,
    ],
    [
      'a unit that every object has as a member',
      withSetting(DIFFERENCE, { ...setting, unit: 'constructor' }),
      `${pointer}/unit: must be one of /min, %, mm[Hg]`,
    ],
    [
      'the unit of another setting',
      withSetting(DIFFERENCE, { ...setting, unit: 'mm[Hg]' }),
      `${pointer}/unit: ${DIFFERENCE} is told in "/min", not in "mm[Hg]"; nothing is converted`,
    ],
    [
      'a number as text',
      withSetting(DIFFERENCE, { ...setting, at: '24' }),
      `${pointer}/at: must be a number`,
    ],
    [
      'a number below zero',
      withSetting(DIFFERENCE, { ...setting, at: -1 }),
      `${pointer}/at: must be from 0 to 10000`,
    ],
    [
      'a year that is none',
      withSetting(DIFFERENCE, { ...setting, source: { ...source, year: 26 } }),
      `${pointer}/source/year: must be from 1900 to 2100`,
    ],
    [
      'a switch that is neither on nor off',
      { ...configuration, rules: { 'pulse-pressure-wide': { enabled: 'no' } } },
      '/rules/pulse-pressure-wide/enabled: must be true or false',
    ],
    [
      'derived values that are neither on nor off',
      { ...configuration, derivedValues: { enabled: 'yes' } },
      '/derivedValues/enabled: must be true or false',
    ],
    [
      'a factor in the place of the switch',
      { ...configuration, derivedValues: { enabled: true, factor: 0.4 } },
      '/derivedValues/factor: "factor" is not a member',
    ],
    [
      'settings as a list',
      { name: 'Larkfield', settings: [setting] },
      '/settings: must be an object',
    ],
  ])('%s', (_name, value, fault) => {
    const faults = faultsOf(value);
    expect(faults).toHaveLength(1);
    expect(faults[0]).toContain(fault);
  });

  it.each([
    ['null', null],
    [
      'a setting named like what every object has',
      JSON.parse('{"name":"x","settings":{"__proto__":{}}}') as unknown,
    ],
    ['an id with a slash', withSetting('a/b~c', setting)],
    ['a list for a setting', withSetting(DIFFERENCE, [])],
    ['null for a source', withSetting(DIFFERENCE, { ...setting, source: null })],
    ['null for a switch', { ...configuration, rules: { 'pulse-pressure-wide': null } }],
    ['text for switches', { ...configuration, rules: 'off' }],
    ['null for derived values', { ...configuration, derivedValues: null }],
  ])('is refused without a failure: %s', (_name, value) => {
    expect(readSiteRules(value).ok).toBe(false);
  });

  it('bounds what a hostile body costs', () => {
    const settings = Object.fromEntries(
      Array.from({ length: 5_000 }, (_, n) => [`plausible.nothing.${n}`, { at: 'x' }]),
    );
    const read = checkSiteRules({ name: 'Larkfield', settings });
    expect(read.ok ? 0 : read.faults.length).toBe(100);
    expect(faultsOf({ name: 'Larkfield', settings }).length).toBe(100);
  });
});

describe('derived values', () => {
  const FACTOR = 'derived-values.mean-factor';
  const factor = (at: number) => ({ [FACTOR]: { at, unit: '1', source } });
  const on = { derivedValues: { enabled: true } };

  it('are off unless the site asks for them, and then by a third or its own factor', () => {
    const limitsOf = (more: object) => {
      const read = readSiteRules({ name: 'Larkfield', settings: {}, ...more });
      if (!read.ok) throw new Error(JSON.stringify(read.faults));
      return [read.limits.derives, read.limits.at(FACTOR)];
    };
    expect(limitsOf({})).toEqual([false, 1 / 3]);
    expect(limitsOf({ derivedValues: { enabled: false } })).toEqual([false, 1 / 3]);
    expect(limitsOf(on)).toEqual([true, 1 / 3]);
    expect(limitsOf({ ...on, settings: factor(0.4) })).toEqual([true, 0.4]);
  });

  it.each([
    [
      'a factor that nothing is calculated with',
      { settings: factor(0.4) },
      [
        `/settings/${FACTOR}: ${FACTOR} has no effect: nothing is calculated unless "derivedValues" is switched on`,
      ],
    ],
    [
      'a factor that nobody has published',
      { ...on, settings: factor(0.55) },
      [`/settings/${FACTOR}/at: ${FACTOR} (0.55) must be from 0.3 to 0.5`],
    ],
    [
      'a factor that makes every mean an unusual one',
      {
        ...on,
        settings: { ...factor(0.4), 'mean-fraction-unusual.low': { at: 0.42, unit: '1', source } },
      },
      [
        `/settings/${FACTOR}/at: ${FACTOR} (0.4) lies outside mean-fraction-unusual (0.42 to 0.6): every mean that is calculated would be an unusual one`,
      ],
    ],
    [
      'the same by the factor that comes with the gateway',
      { ...on, settings: { 'mean-fraction-unusual.low': { at: 0.42, unit: '1', source } } },
      [
        `/derivedValues: ${FACTOR} (1/3) lies outside mean-fraction-unusual (0.42 to 0.6): every mean that is calculated would be an unusual one`,
      ],
    ],
    [
      'both, where another fault stands beside',
      { ...on, whim: 1, settings: factor(0.55) },
      [
        '/whim: "whim" is not a member',
        `/settings/${FACTOR}/at: ${FACTOR} (0.55) must be from 0.3 to 0.5`,
      ],
    ],
  ])('refuse %s', (_name, more, faults) => {
    const found = faultsOf({ name: 'Larkfield', ...more });
    expect(found).toEqual(faults.map((fault) => expect.stringContaining(fault) as string));
  });

  it('leave the share of a mean that is sent to the site where nothing is calculated', () => {
    const settings = { 'mean-fraction-unusual.low': { at: 0.42, unit: '1', source } };
    expect(faultsOf({ name: 'Larkfield', settings })).toEqual([]);
  });
});

describe('faults of the sense', () => {
  it('names every fault, of form, of sense and of switches, each with its pointer', () => {
    const faults = faultsOf({
      name: 'Larkfield',
      settings: {
        [HOLD_ABOVE]: { at: 120, unit: '/min', source },
        [DIFFERENCE]: { at: 4, unit: '/min', source },
        'time-in-future.ahead': { at: 10, unit: 'h', source },
      },
      rules: { 'value-impossible': { enabled: false } },
    });
    const pointers = new Set(faults.map((fault) => fault.slice(0, fault.indexOf(':'))));
    expect(pointers).toEqual(
      new Set([
        '/settings/time-in-future.ahead/unit',
        `/settings/${HOLD_ABOVE}/at`,
        `/settings/${DIFFERENCE}/at`,
        '/rules/value-impossible/enabled',
      ]),
    );
  });

  it('does not hold a number against one that is at fault itself', () => {
    const rejectAbove = 'plausible.pulse-rate.value.any.any.rejectAbove';
    const faults = faultsOf({
      name: 'Larkfield',
      settings: {
        [HOLD_ABOVE]: { at: 360, unit: '/min', source },
        [rejectAbove]: { at: 400, unit: '%', source },
      },
    });
    expect(faults).toHaveLength(1);
    expect(faults[0]).toContain(`/settings/${rejectAbove}/unit`);
  });
});
