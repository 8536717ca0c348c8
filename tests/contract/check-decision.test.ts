import { checkDecision, checkOwnDecision } from '../../src/contract/compile.js';
import type { Fault } from '../../src/vitals/shapes.js';

const BASE = { reason: 'Counted again at the bed.', reasonCode: 'entry-error', expectedVersion: 2 };
const READING = { vital: 'respiratory-rate', method: 'counted', count: 11, seconds: 30 };
const PATIENT = {
  identifier: { system: 'urn:example:mrn', value: 'LF-30190' },
  birthDate: '1971-07-08',
};

type Check = typeof checkDecision;

function faultsOf(check: Check, value: unknown): readonly Fault[] {
  const result = check(value);
  return result.ok ? [] : result.faults;
}

describe('an analyst decides', () => {
  it.each([
    { action: 'release' },
    { action: 'reject' },
    { action: 'withdraw' },
    { action: 'correct', reading: READING },
    { action: 'correct', patient: PATIENT },
    { action: 'correct', reading: READING, patient: PATIENT },
    { action: 'assign', patient: PATIENT },
  ])('%j', (decision) => {
    const whole = { ...BASE, ...decision };
    expect(checkDecision(whole)).toEqual({ ok: true, decision: whole });
  });

  it.each([
    [{ action: 'correct' }, '', 'the action "correct" takes "reading", "patient" or both'],
    [{ action: 'assign' }, '', 'the action "assign" takes "patient" and no "reading"'],
    [
      { action: 'assign', patient: PATIENT, reading: READING },
      '/reading',
      'the action "assign" takes "patient" and no "reading"',
    ],
    [
      { action: 'release', reading: READING },
      '/reading',
      'the action "release" takes neither "reading" nor "patient"',
    ],
    [
      { action: 'withdraw', reading: READING, patient: PATIENT },
      '',
      'the action "withdraw" takes neither "reading" nor "patient"',
    ],
    [{ action: 'keep' }, '/action', 'must be one of release, correct, reject, withdraw, assign'],
    [
      { action: 'release', reason: ' \n ' },
      '/reason',
      'must be text, not blank and without control characters',
    ],
    [
      { action: 'release', reason: 'x'.repeat(501) },
      '/reason',
      'must not be longer than 500 characters',
    ],
    [{ action: 'release', expectedVersion: 0 }, '/expectedVersion', 'must be from 1 to 1000000'],
    [{ action: 'release', expectedVersion: '2' }, '/expectedVersion', 'must be a whole number'],
    [
      { action: 'release', comment: 'x' },
      '/comment',
      '"comment" is not a member of the decision; unknown members are refused',
    ],
  ])('not %j', (decision, pointer, message) => {
    expect(faultsOf(checkDecision, { ...BASE, ...decision })).toEqual([{ pointer, message }]);
  });

  it('with a reason that can be counted', () => {
    const decision = { ...BASE, action: 'release', reasonCode: 'because' };
    expect(faultsOf(checkDecision, decision)).toEqual([
      {
        pointer: '/reasonCode',
        message: expect.stringContaining('must be one of confirmed-at-bedside, ') as string,
      },
    ]);
  });

  it('on a whole reading, held against the same schema as in a set', () => {
    const decision = { ...BASE, action: 'correct', reading: { ...READING, systolic: 120 } };
    expect(faultsOf(checkDecision, decision)).toEqual([
      {
        pointer: '/reading/systolic',
        message: expect.stringContaining(
          'a reading of respiratory-rate takes exactly one',
        ) as string,
      },
    ]);
  });
});

describe('a sender decides about its own', () => {
  it.each([{ action: 'withdraw' }, { action: 'correct', reading: READING }])('%j', (decision) => {
    expect(checkOwnDecision({ ...BASE, ...decision }).ok).toBe(true);
  });

  it.each(['release', 'reject', 'assign', 'keep'])('not to %s, said once', (action) => {
    const decision = { ...BASE, action, ...(action === 'assign' && { patient: PATIENT }) };
    expect(faultsOf(checkOwnDecision, decision)).toEqual([
      { pointer: '/action', message: 'must be one of correct, withdraw' },
    ]);
  });

  it('without an object, nothing', () => {
    expect(faultsOf(checkOwnDecision, null)).toEqual([
      { pointer: '', message: 'must be an object' },
    ]);
  });
});
