/** Each threshold of the rules that compare: silent at it, speaking one step beyond, or the other way round. */
import { judgeInOrder } from './judge-case.js';
import { THRESHOLDS, type Threshold } from './threshold-table.js';

const FIRST_MS = Date.UTC(2026, 2, 2, 7, 0);

/** The rules that spoke about the last set, and those that lifted a hold of it. */
function heard(threshold: Threshold, value: number): readonly string[] {
  const { story, birthDate = '1975-05-05', arrivesAfterMin } = threshold;
  const said = judgeInOrder({
    name: 'a threshold',
    patient: { birthDate, familyName: 'Merrow', gender: 'male' },
    sets: story(value).map(([minute, readings], at) => {
      const takenAtMs = FIRST_MS + minute * 60_000;
      const delayMs = (arrivesAfterMin?.(value) ?? 1) * 60_000;
      return {
        receivedAt: new Date(takenAtMs + delayMs).toISOString(),
        source: { attended: arrivesAfterMin === undefined, secondIdentifierRequired: false },
        set: {
          setId: `3b1f6a84-90c2-4d7e-9a15-7f2e64c0b${String(at).padStart(3, '0')}`,
          patient: {
            identifier: { system: 'urn:example:mrn', value: 'LF-40003' },
            familyName: 'Merrow',
          },
          takenAt: new Date(takenAtMs).toISOString(),
          readings,
        },
        expect: { verdict: 'accepted', readings: [], findings: [] },
      };
    }),
  });
  const findings = said.at(-1)?.judged.findings ?? [];
  return findings.flatMap(({ rule, figures }) => [rule, String(figures?.liftedBy ?? rule)]);
}

describe.each(THRESHOLDS)('$rule by $of', (threshold) => {
  it.each(threshold.speaks)('speaks at %d', (value) => {
    expect(heard(threshold, value)).toContain(threshold.rule);
  });

  it.each(threshold.silent)('is silent at %d', (value) => {
    expect(heard(threshold, value)).not.toContain(threshold.rule);
  });
});
