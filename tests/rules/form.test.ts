import { contextOf, reading, saturation } from './build-context.js';
import { findingsOf, judge } from './judge.js';

/** Words of the published contract of this gateway; units by UCUM 2.2, case sensitive. */
describe.each([
  ['unit-unknown', { faults: ['unit-unknown'], sentUnit: 'mmhg' }, /"mmhg"/],
  ['method-not-taken', { faults: ['method-not-taken'], method: 'capnography' }, /capnography/],
  ['site-not-taken', { faults: ['site-not-taken'], site: 'oral' }, /oral/],
] as const)('%s', (rule, changes, words) => {
  const faulty = () => reading('blood-pressure', {}, { ...changes, faults: [...changes.faults] });

  it('rejects the reading and no other', () => {
    const judged = judge(contextOf([faulty(), saturation(97)]));
    expect(judged.readings.map(({ verdict, status }) => [verdict, status])).toEqual([
      ['rejected', null],
      ['accepted', 'final'],
    ]);
  });

  it('says what was sent', () => {
    const findings = findingsOf(rule, contextOf([faulty()]));
    expect(findings.map(({ message }) => message)).toEqual([expect.stringMatching(words)]);
  });
});

describe('unit-unknown', () => {
  it('says that no unit was sent', () => {
    const missing = reading('body-weight', {}, { faults: ['unit-unknown'], sentUnit: null });
    const [finding] = findingsOf('unit-unknown', contextOf([missing]));
    expect(finding?.message).toContain('no unit was sent');
  });
});

describe('method-not-taken', () => {
  it('says so where a sign takes no method', () => {
    const weighed = reading('body-weight', {}, { faults: ['method-not-taken'], method: 'counted' });
    const [finding] = findingsOf('method-not-taken', contextOf([weighed]));
    expect(finding?.message).toContain('takes none');
  });
});
