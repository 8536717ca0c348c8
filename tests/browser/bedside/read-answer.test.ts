import type { SetAnswer } from '../../../src/browser/bedside/door.js';
import { readAnswer, readChecked } from '../../../src/browser/bedside/form/read-answer.js';

const finding = { advice: 'Measure again.', source: 'a source', message: 'It differs.' };
const ANSWER: SetAnswer = {
  setId: '6f1f3b52-9a44-4c2f-8d5a-0e6b2c4a7d10',
  verdict: 'held',
  edition: '3',
  readings: [
    { index: 0, vital: 'oxygen-saturation', verdict: 'noted', value: 89, interpretation: 'LL' },
    { index: 1, vital: 'pulse-rate', verdict: 'accepted', value: 74, interpretation: 'N' },
    {
      index: 2,
      vital: 'blood-pressure',
      verdict: 'held',
      systolic: 118,
      diastolic: 76,
      interpretation: { systolic: 'N', diastolic: 'N' },
    },
    { index: 3, vital: 'blood-pressure', verdict: 'held', systolic: 148, diastolic: 81 },
    { index: 4, vital: 'pulse-rate', verdict: 'held', value: 252 },
  ],
  findings: [
    { ...finding, rule: 'odd-last-digit', verdict: 'noted', readings: [3] },
    { ...finding, rule: 'blood-pressure-methods-disagree', verdict: 'held', readings: [2, 3] },
    { ...finding, rule: 'patient-single-identifier', verdict: 'noted', readings: [] },
    { ...finding, rule: 'value-doubtful', verdict: 'held', readings: [4] },
  ],
};
/** Readings 0 and 1 are of one oximeter. */
const ENTRIES = [7, 7, 8, 9, 10];

describe('what the answer says of each entry', () => {
  const { answers, ofSet } = readAnswer(ANSWER, ENTRIES);

  it('takes the worst of its readings', () => {
    expect([7, 8, 9, 10].map((id) => answers.get(id)?.verdict)).toEqual([
      'noted',
      'held',
      'held',
      'held',
    ]);
  });

  it('calls critical what the gateway interprets so, and nothing else', () => {
    expect([7, 8, 9, 10].map((id) => answers.get(id)?.critical)).toEqual([
      true,
      false,
      false,
      false,
    ]);
  });

  it('calls critical what the gateway says so of without a code, as of an unknown age', () => {
    const critical = {
      ...finding,
      rule: 'value-critical',
      verdict: 'noted',
      readings: [1],
    } as const;
    const told = readAnswer({ ...ANSWER, findings: [critical] }, ENTRIES);
    expect(told.answers.get(7)?.critical).toBe(true);
  });

  it('names both sides of a disagreement, the one in hand first', () => {
    expect(answers.get(9)?.together).toEqual([9, 8]);
    expect(answers.get(8)?.together).toEqual([8, 9]);
    expect(answers.get(7)?.together).toEqual([]);
  });

  it('puts the gravest finding first', () => {
    expect(answers.get(9)?.findings.map(({ rule }) => rule)).toEqual([
      'blood-pressure-methods-disagree',
      'odd-last-digit',
    ]);
  });

  it('offers to confirm only where a second measurement lifts the hold', () => {
    expect(answers.get(10)?.canConfirm).toBe(true);
    expect(answers.get(9)?.canConfirm).toBe(false);
  });

  it('keeps what is said of the whole set apart', () => {
    expect(ofSet.map(({ rule }) => rule)).toEqual(['patient-single-identifier']);
  });

  it('hands on the faults of a set that could not be judged', () => {
    const faults = [{ pointer: '/readings', message: 'is missing' }];
    expect(readChecked({ by: 'gateway', faults }, [])).toEqual({ faults: ['is missing'] });
  });
});
