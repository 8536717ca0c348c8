import { ENGLISH } from '../../../src/browser/bedside/words/english.js';
import { GERMAN } from '../../../src/browser/bedside/words/german.js';
import { chooseLanguage, sayIn } from '../../../src/browser/bedside/words/say.js';

const KEYS = Object.keys(ENGLISH) as (keyof typeof ENGLISH)[];

function gapsOf(words: string): string[] {
  return [...words.matchAll(/\{(\w+)\}/g)].map(([gap]) => gap).sort();
}

describe('the words of the page', () => {
  it('are all there in the second language', () => {
    expect(Object.keys(GERMAN).sort()).toEqual([...KEYS].sort());
    for (const key of KEYS) expect(GERMAN[key].trim()).not.toBe('');
  });

  it.each(KEYS)('%s has the same gaps in every language', (key) => {
    expect(gapsOf(GERMAN[key])).toEqual(gapsOf(ENGLISH[key]));
  });

  it('put numbers into their gaps', () => {
    const gaps = { count: 9, seconds: 30, times: 2, rate: 18 };
    expect(sayIn('en')('count.sum', gaps)).toBe('9 in 30 s × 2 = 18 a minute');
    expect(sayIn('de')('count.sum', gaps)).toBe('9 in 30 s × 2 = 18 in der Minute');
  });

  it('come in the first language of the browser that there is', () => {
    expect(chooseLanguage(['fr-FR', 'de-AT', 'en-GB'])).toBe('de');
    expect(chooseLanguage(['fr'])).toBe('en');
  });
});
