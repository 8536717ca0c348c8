/** The registry of settings: what every row must have, whoever adds it. */
import { RULES } from '../../src/rules/index.js';
import { describeBands, describeSettings } from '../../src/vitals/describe-settings.js';
import { contradictions } from '../../src/vitals/limits-contradictions.js';
import { sourceText } from '../../src/vitals/limits-sources.js';
import { buildLimits, DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import { SANE_RANGES, type SettingRow } from '../../src/vitals/setting.js';
import { CROSS_CHECK_SETTINGS } from '../../src/vitals/settings-cross-checks.js';
import { findSetting, SETTINGS } from '../../src/vitals/settings.js';
import { limitsOf } from '../../src/vitals/site-rules.js';

const ruleIds = RULES.map(({ id }) => id);
/** Rules, and what else reads a setting. */
const readers = [...ruleIds, 'reference-check', 'derived-values'];
const isCell = (id: string) => /^(plausible|band)\./.test(id);
const SITE = {
  document: 'Larkfield ward policy',
  section: '3',
  year: 2026,
  standing: 'site',
} as const;

describe('the registry of settings', () => {
  it('names each setting once, in a form that a pointer can take', () => {
    const ids = SETTINGS.map(({ id }) => id);
    expect(new Set(ids).size).toBe(ids.length);
    for (const id of ids) expect(id).toMatch(/^[a-zA-Z0-9.-]+$/);
  });

  it.each(SETTINGS.map((setting) => [setting.id, setting] as const))('%s', (id, setting) => {
    expect(sourceText(setting.source).length).toBeGreaterThan(10);
    expect(setting.words).toMatch(/^[A-Z].*\.$/);
    const [least, most] = setting.range ?? SANE_RANGES[setting.unit];
    expect(setting.at).toBeGreaterThanOrEqual(least);
    expect(setting.at).toBeLessThanOrEqual(most);
    for (const other of [...(setting.notBelow ?? []), ...(setting.above ?? [])]) {
      expect([other, findSetting(other)?.unit]).toEqual([other, setting.unit]);
    }
    expect(ruleIds).toEqual(expect.arrayContaining([...(setting.readBy ?? [])]));
    if (!isCell(id)) expect(readers).toContain(id.slice(0, id.indexOf('.')));
  });

  it('caps every tolerance in relative terms by one in absolute terms', () => {
    const relative = Object.entries<SettingRow>(CROSS_CHECK_SETTINGS).filter(
      ([id, { cap }]) => cap !== undefined || id.endsWith('.share'),
    );
    expect(relative.length).toBeGreaterThan(0);
    for (const [id, { cap = '' }] of relative) {
      expect([id, findSetting(cap)?.unit]).toEqual([id, expect.stringMatching(/^[^1%]/)]);
    }
  });
});

describe('the limits as they come', () => {
  it('contradict themselves nowhere (a wrong table harms as a wrong configuration does)', () => {
    expect(contradictions(DEFAULT_LIMITS)).toEqual([]);
  });

  it('read earlier readings as far back as the longest window', () => {
    expect(DEFAULT_LIMITS.comparedMs).toBe(5 * 60_000);
    const source = SITE;
    const longer = buildLimits({ 'pulse-methods-disagree.window': { at: 9, source } });
    expect(longer.comparedMs).toBe(9 * 60_000);
    expect(longer.ms('pulse-methods-disagree.window')).toBe(9 * 60_000);
    expect(() => longer.ms('pulse-methods-disagree.difference')).toThrow('no length of time');
  });

  it('refuse a change of a setting that there is not', () => {
    expect(() => buildLimits({ 'pulse.nothing': { at: 1, source: SITE } })).toThrow(
      'there is no setting pulse.nothing',
    );
  });
});

describe('describeSettings', () => {
  const limits = limitsOf({
    name: 'Larkfield',
    settings: {
      'pulse-methods-disagree.difference': {
        at: 24,
        unit: '/min',
        source: { document: 'Larkfield ward policy', section: '3', year: 2026 },
      },
    },
  });

  it('tells number, unit and source in force, and what they were', () => {
    const difference = describeSettings(limits, 'pulse-methods-differ').find(
      ({ id }) => id === 'pulse-methods-disagree.difference',
    );
    expect(difference).toEqual({
      id: 'pulse-methods-disagree.difference',
      at: 24,
      unit: '/min',
      source: 'Larkfield ward policy, 3, 2026 (set by this site)',
      words: 'Palpated and oximeter pulse further apart than this contradict each other.',
      default: { at: 20, source: expect.stringContaining('the figure is proposed') as string },
      changed: true,
    });
  });

  it('gives each bound to the rule that reads it, and the bands to the codes', () => {
    const idsOf = (rule: string) => describeSettings(limits, rule).map(({ id }) => id);
    expect(idsOf('value-impossible')).toContain('plausible.pulse-rate.value.any.any.rejectAbove');
    expect(idsOf('value-doubtful')).toContain('plausible.pulse-rate.value.any.13y-up.holdAbove');
    expect(idsOf('value-critical')).toContain('band.pulse-rate.value.any.18y-up.criticalLow');
    expect(idsOf('value-critical')).not.toContain('band.pulse-rate.value.any.18y-up.low');
    expect(describeBands(limits).map(({ id }) => id)).toContain(
      'band.blood-pressure.systolic.female.1y-2y.high',
    );
    expect(idsOf('unit-unknown')).toEqual([]);
  });
});
