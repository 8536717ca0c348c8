/**
 * What must hold whatever is sent, in whichever order: sets of one patient, one after the other, judged by
 * the whole rule set with everything that was kept before. What is critical and what is possible is
 * asked of the table typed from the publications, not of the limits that are judged by.
 */
import fc from 'fast-check';
import { RULES } from '../../src/rules/index.js';
import { makeRuleRunner } from '../../src/rules/run.js';
import { breakRule } from '../rules/judge.js';
import { SIGNS } from './boundary-table.js';
import { birthDatesOf, boundsOf, codeOf } from './bounds-at.js';
import { judgeInOrder, type JudgedInCase } from './judge-case.js';
import type { CorpusCase } from './read-corpus.js';

/** A reading as it is sent; of one that the table knows also its sign and value. */
interface Sent {
  readonly wire: object;
  readonly of: { readonly sign: number; readonly value: number } | null;
}

const FIRST_MS = Date.UTC(2026, 2, 16, 9, 0);
const DEVICES = ['M-1', 'M-2'].map((value) => ({
  device: { identifier: { system: 'urn:example:device', value } },
}));

const ofTable: fc.Arbitrary<Sent> = fc
  .tuple(fc.nat(SIGNS.length - 1), fc.double({ min: -0.1, max: 1.1, noNaN: true }))
  .map(([sign, share]) => {
    const table = SIGNS[sign];
    if (table === undefined) throw new Error('no such sign');
    const { possibleFrom, possibleTo, step, reading } = table;
    const steps = Math.round((possibleFrom + share * (possibleTo - possibleFrom)) / step);
    const value = Math.round(steps * step * 10) / 10;
    return { wire: reading(value), of: { sign, value } };
  });

const near = (low: number, high: number) => fc.integer({ min: low, max: high });
/** About one of these, so that two of a sign often agree and often contradict each other. */
const about = (centres: readonly number[], by: number) =>
  fc.tuple(fc.constantFrom(...centres), near(-by, by)).map(([centre, off]) => centre + off);
const rate = (method: string) =>
  about([38, 76, 140], 6).map((value) => ({ vital: 'pulse-rate', method, value, unit: '/min' }));
const pressures = (method: string) =>
  fc
    .tuple(about([84, 122, 158, 252], 5), about([8, 44], 4), fc.option(near(50, 150)))
    .map(([systolic, apart, mean]) => ({
      ...{ vital: 'blood-pressure', method, systolic, diastolic: systolic - apart },
      ...(mean === null ? {} : { mean }),
      unit: 'mm[Hg]',
    }));
/** Readings that often agree with, contradict or repeat each other. */
const ofWard: fc.Arbitrary<Sent> = fc
  .tuple(
    fc.oneof(
      ...['palpation', 'pulse-oximetry', 'electrocardiography'].map(rate),
      ...['auscultation', 'oscillometry'].map(pressures),
      fc
        .tuple(fc.constantFrom('oral', 'rectal', 'tympanic'), about([345, 368, 391], 4))
        .map(([site, tenths]) => ({
          ...{ vital: 'body-temperature', site, value: tenths / 10, unit: 'Cel' },
        })),
      near(85, 100).map((value) => ({ vital: 'oxygen-saturation', value, unit: '%' })),
      fc.constantFrom('alert', 'pain').map((code) => ({ vital: 'consciousness', code })),
      fc.constant({ vital: 'pulse-rate', method: 'thermometry', value: 72, unit: '/min' }),
    ),
    fc.constantFrom({}, { side: 'left' }, { side: 'right' }),
    fc.constantFrom({}, { confirmed: true }, { regular: false }),
    fc.constantFrom({}, ...DEVICES),
  )
  .map(([wire, ...rest]) => ({ wire: Object.assign({}, wire, ...rest) as object, of: null }));

const readings = fc.array(fc.oneof(ofTable, ofWard), { minLength: 1, maxLength: 5 });
const sequences = fc.array(
  fc.record({ readings, minutesLater: fc.constantFrom<number>(0, 1, 2, 3, 6, 300) }),
  { minLength: 1, maxLength: 4 },
);
const BIRTH_DATES = [...birthDatesOf(SIGNS[0] ?? fail()), '1938-04-11'];
const people = fc.record({
  birthDate: fc.constantFrom(...BIRTH_DATES, null),
  attended: fc.boolean(),
});
const mixed = fc.record({ sequence: sequences, person: people });
/** Two ways of measuring one sign, some of them far apart, within minutes. */
const quarrels = fc.record({
  sequence: fc.array(
    fc.record({
      readings: fc.array(
        fc
          .tuple(fc.boolean(), about([76, 140], 3), fc.constantFrom({}, ...DEVICES))
          .map(([byHand, value, device]): Sent => {
            const method = byHand ? 'palpation' : 'pulse-oximetry';
            return {
              wire: { vital: 'pulse-rate', method, value, unit: '/min', ...device },
              of: null,
            };
          }),
        { minLength: 1, maxLength: 3 },
      ),
      minutesLater: fc.constantFrom<number>(0, 1, 2, 3),
    }),
    { minLength: 2, maxLength: 3 },
  ),
  person: people,
});
const stories = fc.oneof({ weight: 3, arbitrary: mixed }, quarrels);
type Story = typeof stories extends fc.Arbitrary<infer T> ? T : never;

function fail(): never {
  throw new Error('the table is empty');
}

function caseOf({ sequence, person: { birthDate, attended } }: Story): CorpusCase {
  let atMs = FIRST_MS;
  return {
    name: 'a story',
    patient: { birthDate, familyName: 'Merrow', gender: 'female' },
    sets: sequence.map((each, at) => {
      atMs += each.minutesLater * 60_000;
      return {
        // No two in one millisecond: which of them came first could not be told.
        receivedAt: new Date(atMs + 30_000 + at).toISOString(),
        source: { attended, secondIdentifierRequired: false },
        set: {
          setId: `7d0a9c52-4a55-4f0e-8f1b-61c7a3f2b9d${at}`,
          patient: {
            identifier: { system: 'urn:example:mrn', value: 'LF-40002' },
            familyName: 'Merrow',
          },
          takenAt: new Date(atMs).toISOString(),
          readings: each.readings.map(({ wire }) => wire),
        },
        expect: { verdict: 'accepted', readings: [], findings: [] },
      };
    }),
  };
}

/** The codes that a value has: one where the age is known, else those of every age. */
function codesOf({ sign, value }: NonNullable<Sent['of']>, birthDate: string | null) {
  const table = SIGNS[sign] ?? fail();
  const births = birthDate === null ? birthDatesOf(table) : [birthDate];
  return births.map((born) => codeOf(value, boundsOf(table, born, 'female')));
}

const isPossible = ({ sign, value }: NonNullable<Sent['of']>): boolean => {
  const table = SIGNS[sign] ?? fail();
  return value >= table.possibleFrom && value <= table.possibleTo;
};

/** Each reading of a story that the table knows and that was judged, with what was said of it. */
function* tabled(story: Story, said: readonly JudgedInCase[]) {
  for (const [at, { judged }] of said.entries()) {
    for (const one of judged.readings) {
      const of = story.sequence[at]?.readings[one.reading.index]?.of ?? null;
      if (of !== null) yield { of, ...one };
    }
  }
}

/** What was said of each reading, by what it is and not by its place: of two that are alike one may be linked. */
const outcome = ({ judged, linked }: JudgedInCase) => ({
  readings: judged.readings
    .map(({ reading, findings, ...said }) =>
      JSON.stringify([
        { ...reading, index: null },
        [said.verdict, said.hold, said.status, said.critical, said.interpretation],
        findings.map(({ rule, verdict }) => `${rule} ${verdict}`).sort(),
      ]),
    )
    .sort(),
  linked: linked.length,
  resolved: judged.resolved.length,
  published: judged.publishEarlier.length,
});

const DISAGREEMENTS = [
  'blood-pressure-methods-disagree',
  'pulse-methods-disagree',
  'temperature-sites-disagree',
];
/** Which hold may be lifted by which rule. */
const LIFTED_BY: Readonly<Record<string, readonly string[]>> = {
  'value-confirmed': ['value-doubtful', 'pulse-pressure-narrow', 'respiratory-rate-above-pulse'],
  'value-corroborated': ['value-doubtful'],
  'resolved-by-repeat': DISAGREEMENTS,
};

describe('for every story of a patient', () => {
  it('the verdict does not depend on the order of the readings', () => {
    fc.assert(
      fc.property(stories, fc.array(fc.nat(), { minLength: 5, maxLength: 5 }), (story, dice) => {
        const last = story.sequence.at(-1) ?? fail();
        const order = last.readings
          .map((_, index) => index)
          .sort((a, b) => (dice[a] ?? 0) - (dice[b] ?? 0) || a - b);
        const turned = {
          ...story,
          sequence: story.sequence.with(-1, {
            ...last,
            readings: order.map((from) => last.readings[from] ?? fail()),
          }),
        };
        expect(outcome(judgeInOrder(caseOf(turned)).at(-1) ?? fail())).toEqual(
          outcome(judgeInOrder(caseOf(story)).at(-1) ?? fail()),
        );
      }),
      { numRuns: 200 },
    );
  });

  it('a rule that throws holds what it was to look at, and withholds nothing critical', () => {
    const speaking = RULES.filter(({ stage }) => stage !== 'lift' && stage !== 'resolve');
    fc.assert(
      fc.property(stories, fc.constantFrom(...speaking), (story, broken) => {
        const said = judgeInOrder(caseOf(story), makeRuleRunner(breakRule(broken.id)));
        for (const { judged } of said) {
          for (const { reading, verdict, critical, hold, status } of judged.readings) {
            if (broken.appliesTo?.includes(reading.vital) ?? true) {
              expect(['held', 'rejected']).toContain(verdict);
            }
            if (critical && hold === 'value') expect(status).toBe('preliminary');
          }
        }
      }),
      { numRuns: 300 },
    );
  });

  it('a lifting rule that throws lifts nothing', () => {
    fc.assert(
      fc.property(stories, fc.constantFrom(...Object.keys(LIFTED_BY)), (story, id) => {
        const without = makeRuleRunner(RULES.filter((rule) => rule.id !== id));
        expect(judgeInOrder(caseOf(story), makeRuleRunner(breakRule(id))).map(outcome)).toEqual(
          judgeInOrder(caseOf(story), without).map(outcome),
        );
      }),
      { numRuns: 150 },
    );
  });

  it('rejected stays rejected whatever else arrives', () => {
    fc.assert(
      fc.property(stories, fc.oneof(ofTable, ofWard), (story, one) => {
        const alone = { ...story, sequence: [{ readings: [one], minutesLater: 0 }] };
        const [said] = judgeInOrder(caseOf(alone));
        if (said?.judged.readings[0]?.verdict !== 'rejected') return;
        const last = story.sequence.at(-1) ?? fail();
        const together = {
          ...story,
          sequence: story.sequence.with(-1, { ...last, readings: [one, ...last.readings] }),
        };
        const crowd = judgeInOrder(caseOf(together)).at(-1);
        expect(crowd?.judged.readings[0]?.verdict).toBe('rejected');
      }),
      { numRuns: 300 },
    );
  });

  it('only the named rules lift a hold, each only of the rules that it names', () => {
    const never = makeRuleRunner(
      RULES.filter(({ stage }) => stage !== 'lift' && stage !== 'resolve'),
    );
    let lifted = 0;
    fc.assert(
      fc.property(stories, (story) => {
        const before = judgeInOrder(caseOf(story), never)[0]?.judged ?? fail();
        const after = judgeInOrder(caseOf(story))[0]?.judged ?? fail();
        for (const [at, { verdict, hold, findings }] of after.readings.entries()) {
          const lifts = findings.filter(({ figures }) => figures?.liftedBy !== undefined);
          for (const { rule, figures } of lifts) {
            expect(LIFTED_BY[String(figures?.liftedBy)]).toContain(rule);
          }
          lifted += lifts.length;
          const was = before.readings[at] ?? fail();
          if (lifts.length > 0) expect(was.verdict).not.toBe('accepted');
          else expect(hold).toBe(was.hold);
          // Who agrees with a repeat is told so.
          const repeated = findings.some(({ rule }) => rule === 'resolved-by-repeat');
          if (lifts.length === 0 && !repeated) expect(verdict).toBe(was.verdict);
        }
      }),
      { numRuns: 300 },
    );
    expect(lifted).toBeGreaterThan(0);
  });

  it('a later set changes no earlier verdict but ends a hold for a disagreement alone', () => {
    let released = 0;
    fc.assert(
      fc.property(stories, (story) => {
        for (const { judged, earlier } of judgeInOrder(caseOf(story))) {
          for (const { readingId: id, finding } of judged.resolved) {
            const kept = earlier.find(({ readingId: one }) => one === id) ?? fail();
            expect(kept).toMatchObject({ verdict: 'held', hold: 'value' });
            for (const { rule } of kept.doubts ?? fail()) expect(DISAGREEMENTS).toContain(rule);
            expect(finding.rule).toBe('resolved-by-repeat');
            released += 1;
          }
          for (const id of judged.publishEarlier) {
            const kept = earlier.find(({ readingId: one }) => one === id) ?? fail();
            expect(kept).toMatchObject({ verdict: 'held', hold: 'value', status: null });
          }
        }
      }),
      { numRuns: 600 },
    );
    expect(released).toBeGreaterThan(0);
  });

  it('no value between its reject bounds is rejected for its size', () => {
    fc.assert(
      fc.property(stories, (story) => {
        for (const { of, verdict } of tabled(story, judgeInOrder(caseOf(story)))) {
          if (isPossible(of)) expect(verdict).not.toBe('rejected');
          else expect(verdict).toBe('rejected');
        }
      }),
      { numRuns: 300 },
    );
  });

  it('no critical value of a known patient is unpublished, by whatever it is contradicted', () => {
    let seen = 0;
    fc.assert(
      fc.property(stories, (story) => {
        for (const each of tabled(story, judgeInOrder(caseOf(story)))) {
          const codes = codesOf(each.of, story.person.birthDate);
          if (!isPossible(each.of) || !codes.some((code) => code === 'LL' || code === 'HH')) {
            continue;
          }
          expect(each.critical).toBe(true);
          expect(each.status).not.toBeNull();
          seen += 1;
        }
      }),
      { numRuns: 400 },
    );
    expect(seen).toBeGreaterThan(100);
  });
});
