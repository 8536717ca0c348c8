/** Each invented set is judged the whole pure way, and said of it is what its file expects, no more and no less. */
import { RULES } from '../../src/rules/index.js';
import { METHODS, SITES, VITALS } from '../../src/vitals/words.js';
import { judgeCase, sorted } from './judge-case.js';
import { readCorpus } from './read-corpus.js';

const CORPUS = readCorpus();
const SETS = CORPUS.flatMap(({ cases }) => cases.flatMap(({ sets }) => sets));

describe.each(CORPUS)('$theme', ({ cases }) => {
  it.each(cases)('$name', (one) => {
    expect(judgeCase(one).map(sorted)).toEqual(one.sets.map(({ expect: told }) => sorted(told)));
  });
});

describe('the corpus', () => {
  it('holds at least 200 sets, a third of them without any finding', () => {
    expect(SETS.length).toBeGreaterThanOrEqual(200);
    const clean = SETS.filter(({ expect: { findings } }) => findings.length === 0);
    expect(clean.length * 3).toBeGreaterThanOrEqual(SETS.length);
  });

  it('no set is there twice, and no name', () => {
    const ids = SETS.map(({ set }) => (set as { setId: string }).setId);
    expect(new Set(ids).size).toBe(ids.length);
    const names = CORPUS.flatMap(({ cases }) => cases.map(({ name }) => name));
    expect(new Set(names).size).toBe(names.length);
  });

  it.each(RULES.map(({ id }) => id))('expects %s in at least three sets', (id) => {
    const expecting = SETS.filter(({ expect: { findings } }) =>
      findings.some(({ rule, liftedBy }) => rule === id || liftedBy === id),
    );
    expect(expecting.length).toBeGreaterThanOrEqual(3);
  });

  it('has every sign, method and site', () => {
    const text = JSON.stringify(SETS.map(({ set }) => set));
    const missing = [...VITALS, ...METHODS, ...SITES].filter((word) => !text.includes(`"${word}"`));
    expect(missing).toEqual([]);
  });
});
