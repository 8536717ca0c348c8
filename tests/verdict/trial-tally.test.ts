import { TrialTally } from '../../src/verdict/trial-tally.js';
import type { Finding, JudgedReading, JudgedSet, Reading } from '../../src/vitals/shapes.js';
import type { Verdict } from '../../src/vitals/words.js';

const finding = (rule: string, verdict: Finding['verdict']): Finding => ({
  rule,
  verdict,
  readings: [0],
  message: '',
  advice: '',
  source: '',
});

function judged(verdict: Verdict, ...findings: readonly Finding[]): JudgedSet {
  const reading: Partial<JudgedReading> = {
    reading: { index: 0 } as Reading,
    verdict,
    findings,
    interpretation: {},
    status: verdict === 'held' || verdict === 'rejected' ? null : 'final',
  };
  return {
    verdict,
    readings: [reading as JudgedReading],
    findings,
    publishEarlier: [],
    resolved: [],
    edition: 1,
  };
}

const place = (location: string | null, noted: readonly number[] = []) => ({
  location,
  readingId: (index: number) => `${String(location)}#${index}`,
  noted: new Set(noted),
});

describe('the tally of a trial', () => {
  it('names the rules that say something else, not those that say the same', () => {
    const tally = new TrialTally(5);
    tally.add(
      place('larkfield/2'),
      judged('noted', finding('a', 'noted'), finding('b', 'noted')),
      judged('held', finding('a', 'noted'), finding('c', 'held')),
    );
    expect(tally.report()).toMatchObject({
      changed: 1,
      otherPublication: 1,
      byRule: [
        { rule: 'b', from: 'noted', to: 'held', ward: 'larkfield', examples: ['larkfield/2#0'] },
        { rule: 'c', from: 'noted', to: 'held', ward: 'larkfield' },
      ],
    });
  });

  it('lets a note stand that was not asked for again', () => {
    const tally = new TrialTally(5);
    tally.add(place('w', [0]), judged('accepted'), judged('noted', finding('a', 'noted')));
    tally.add(place('w', [0]), judged('accepted'), judged('held', finding('b', 'held')));
    expect(tally.report().byDirection).toEqual([{ from: 'noted', to: 'held', readings: 1 }]);
  });

  it('counts earlier readings that a repeat releases by one configuration only', () => {
    const released = (...ids: string[]): JudgedSet => ({
      ...judged('accepted'),
      resolved: ids.map((readingId) => ({ readingId, finding: finding('a', 'noted') })),
    });
    const tally = new TrialTally(5);
    tally.add(place('w'), released('r1', 'r2'), released('r2', 'r3'));
    tally.add(place('w'), released('r4'), released('r4'));
    expect(tally.report()).toMatchObject({ changed: 0, otherReleases: 2 });
  });

  it('stays small however many wards and readings there are', () => {
    const tally = new TrialTally(2);
    for (let i = 0; i < 5_000; i += 1) {
      tally.add(place(`ward-${i}/1`), judged('accepted'), judged('held', finding('a', 'held')));
    }
    const { byRule, changed } = tally.report();
    expect(changed).toBe(5_000);
    expect(byRule.length).toBeLessThanOrEqual(201);
    expect(byRule[0]).toMatchObject({ ward: 'other wards', readings: 4_800 });
    expect(byRule[0]?.examples).toHaveLength(2);
  });
});
