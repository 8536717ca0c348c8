import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { RULES } from '../../src/rules/index.js';
import { sourceText } from '../../src/vitals/limits-sources.js';

const folder = join(__dirname, '../../src/rules');
const files = readdirSync(folder, { withFileTypes: true })
  .filter((entry) => entry.isDirectory())
  .flatMap(({ name }) => readdirSync(join(folder, name)))
  .map((file) => file.replace(/\.ts$/, ''));

const tests = readdirSync(__dirname)
  .filter((file) => file.endsWith('.test.ts'))
  .map((file) => readFileSync(join(__dirname, file), 'utf8'))
  .join('\n');

describe('the list of rules', () => {
  it('has every rule file, once, under its own name', () => {
    expect(RULES.map(({ id }) => id).sort()).toEqual([...files].sort());
    expect(new Set(files).size).toBe(files.length);
  });

  it.each(RULES.map((rule) => [rule.id, rule] as const))('%s', (id, rule) => {
    expect(sourceText(rule.source).length).toBeGreaterThan(10);
    expect(rule.words).toMatch(/^[A-Z].*\.$/);
    expect(rule.since).toBeGreaterThanOrEqual(1);
    // Only a hold has a kind of hold.
    expect(rule.hold === undefined).toBe(rule.verdict !== 'held');
    // Each rule has a test that bears its name, or a row of one.
    expect(tests).toMatch(
      new RegExp(`(describe|it)(\\.each)?\\(?[^\\n]*'[^'\\n]*${id}|\\n    \\['${id}', '`),
    );
  });

  it('lifts only holds that there are', () => {
    const holds = RULES.filter(({ verdict }) => verdict === 'held').map(({ id }) => id);
    for (const rule of RULES) {
      if (rule.stage === 'lift' || rule.stage === 'resolve')
        expect(holds).toEqual(expect.arrayContaining([...rule.lifts]));
    }
  });
});
