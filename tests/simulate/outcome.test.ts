import { findFlaw, madeOf } from '../../src/simulate/outcome.js';
import type { Fate } from '../../src/simulate/outcome.js';
import type { Answer } from '../../src/simulate/speak/speaker.js';
import type { Verdict } from '../../src/vitals/words.js';

const TAKEN: Answer = { code: '201', isTaken: true, verdicts: null, isRepeat: false, words: '' };

function fateOf(fate: Partial<Fate>): Fate {
  return {
    ...{ fault: null, answer: TAKEN, second: null, found: null, readings: 2 },
    ...{ isAhead: false, isDoubted: false },
    ...fate,
  };
}

const told = (...verdicts: Verdict[]): Pick<Fate, 'answer'> => ({ answer: { ...TAKEN, verdicts } });
const out = (count: number, kept: number): Pick<Fate, 'answer'> => ({
  answer: { ...TAKEN, published: { out: count, kept } },
});

describe('what the gateway made of a message', () => {
  it.each([
    [told('accepted', 'held', 'noted'), 'held'],
    [told('held', 'rejected'), 'rejected'],
    [{ answer: TAKEN, found: [] }, 'no reading'],
    [{ answer: TAKEN, found: ['accepted', 'noted'] as const }, 'noted'],
    [out(2, 0), 'published'],
    [out(1, 1), 'not published'],
    [{ answer: TAKEN }, 'acknowledged'],
    [{ answer: { ...TAKEN, isTaken: false } }, 'refused'],
  ])('is told by the worst that is known: %j is %s', (fate, made) => {
    expect(madeOf(fateOf(fate))).toBe(made);
  });
});

describe('a fate', () => {
  it.each<[string, Partial<Fate>]>([
    ['a good message', told('accepted', 'noted')],
    ['a good message of which nothing is known', {}],
    ['a lost signal, refused as zero', { fault: 'loose-probe', ...told('rejected') }],
    ['a lost signal, without a reading', { fault: 'loose-probe', found: [] }],
    ['a doubted signal, noted', { fault: 'loose-probe', isDoubted: true, found: ['noted'] }],
    [
      'a doubted signal, out as preliminary',
      { fault: 'loose-probe', isDoubted: true, ...out(2, 0) },
    ],
    ['a swapped patient, held', { fault: 'swapped-patient', ...told('held', 'held') }],
    ['a wrong unit, refused', { fault: 'wrong-unit', ...told('rejected', 'accepted') }],
    ['a clock behind, noted', { fault: 'clock-hour-off', ...told('noted') }],
    ['a clock ahead, held', { fault: 'clock-hour-off', isAhead: true, ...told('held') }],
    [
      'a duplicate that is known',
      { fault: 'duplicate', ...told('accepted'), second: { ...TAKEN, isRepeat: true } },
    ],
    ['a duplicate, kept once', { fault: 'duplicate', second: TAKEN, found: ['accepted', 'noted'] }],
  ])('is as it should be: %s', (_what, fate) => {
    expect(findFlaw(fateOf(fate))).toBeNull();
  });

  it.each<[string, Partial<Fate>, string]>([
    [
      'refused',
      { answer: { ...TAKEN, isTaken: false, code: 'CE', words: 'no' } },
      'answered CE: no',
    ],
    ['a good message is held', told('held'), 'was held; it should be accepted or noted'],
    ['a good message is not out', out(1, 1), 'should be published'],
    [
      'a doubted signal passes',
      { fault: 'loose-probe', isDoubted: true, found: ['accepted'] },
      'was accepted',
    ],
    ['a swapped patient passes', { fault: 'swapped-patient', ...told('noted') }, 'should be held'],
    [
      'a swapped patient is out',
      { fault: 'swapped-patient', ...out(2, 0) },
      'should be not published',
    ],
    [
      'a wrong unit passes',
      { fault: 'wrong-unit', ...told('accepted') },
      'should be held or rejected',
    ],
    [
      'a clock ahead passes',
      { fault: 'clock-hour-off', isAhead: true, ...told('accepted') },
      'should be held',
    ],
    [
      'a duplicate is answered otherwise',
      { fault: 'duplicate', second: { ...TAKEN, code: '409' } },
      'again 409',
    ],
    [
      'a duplicate is not known',
      { fault: 'duplicate', ...told('accepted'), second: TAKEN },
      'not known again',
    ],
    [
      'a duplicate is kept twice',
      { fault: 'duplicate', second: TAKEN, found: ['accepted', 'accepted', 'accepted'] },
      '3 are kept',
    ],
  ])('is not: %s', (_what, fate, words) => {
    expect(findFlaw(fateOf(fate))).toContain(words);
  });
});
