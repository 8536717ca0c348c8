import {
  countAgreement,
  driftState,
  findDrift,
} from '../../../src/serve/desk/agreement/agreement-figures.js';
import { comparePairs, type Difference } from '../../../src/serve/desk/agreement/compare-pairs.js';
import { namePeople } from '../../../src/serve/desk/figures/name-people.js';
import { readPeriod } from '../../../src/serve/desk/figures/read-period.js';
import {
  writeChance,
  writeNumber,
  writeSigned,
} from '../../../src/serve/desk/figures/write-figures.js';
import { cellOf } from '../../../src/serve/desk/figures/send-figures.js';
import type { ComparedPair, PairSide } from '../../../src/store/agreement-pairs.js';

const nobody = { device: null, ward: null, personId: null, person: null, isDoubted: false };
const of = (differences: readonly number[], patients = 5): Difference[] =>
  differences.map((difference, at) => ({
    ...nobody,
    patient: at % patients,
    atMs: at * 3_600_000,
    mean: 120,
    difference,
  }));
const usual = Array.from({ length: 30 }, (_, at) => [-3, 0, 3][at % 3] ?? 0);

describe('figures of pairs', () => {
  it('come from ten pairs of three patients on', () => {
    expect(countAgreement(of([1, 2, 3, 4, 5, 6, 7, 8, 9]))).toEqual({
      pairs: 9,
      patients: 5,
      figures: null,
    });
    expect(countAgreement(of([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 2)).figures).toBeNull();
    expect(
      countAgreement(of([1, 2, 3, 4, 5, 6, 7, 8, 9, 10], 3)).figures?.agreement.bias,
    ).toBeCloseTo(5.5, 9);
  });
});

describe('drift', () => {
  it('is looked for from forty pairs on, and only where pairs differ at all', () => {
    expect(driftState(findDrift(of([...usual, 1, 2, 3])))).toEqual({
      state: 'too-few',
      sinceMs: null,
    });
    expect(findDrift(of(Array<number>(60).fill(0)))).toBeNull();
  });

  it('is found where a device begins to read high, with the pair at which it began', () => {
    const moved = [...usual, ...usual.slice(0, 10), ...usual.map((one) => one + 9)];
    expect(driftState(findDrift(of(moved)))).toEqual({ state: 'risen', sinceMs: 40 * 3_600_000 });
    expect(driftState(findDrift(of(moved.map((one) => -one)))).state).toBe('fallen');
  });

  it('is none after one slip of a finger, however large, nor after a shift that does not matter', () => {
    expect(driftState(findDrift(of([...usual, ...usual, 980]))).state).toBe('steady');
    const slightly = [...usual, ...usual.map((one) => one + 1.5)];
    expect(driftState(findDrift(of(slightly))).state).toBe('steady');
  });
});

describe('pairs that count', () => {
  const side: PairSide = {
    takenAtMs: 0,
    offsetMinutes: 0,
    rate: null,
    systolic: 120,
    diastolic: 80,
    verdict: 'accepted',
    hold: null,
    status: 'final',
    rejectedByPerson: false,
    report: undefined,
  };
  const pair = (byHand: Partial<PairSide>, byDevice: Partial<PairSide> = {}): ComparedPair => ({
    ...nobody,
    patient: 1,
    byHand: { ...side, ...byHand },
    byDevice: { ...side, systolic: 128, ...byDevice },
  });
  const compare = (pairs: readonly ComparedPair[], withTakenBack = false) =>
    comparePairs(
      { pairs, onlySinceMs: null },
      { sign: 'systolic', withTakenBack, speaksOfOthers: ({ report }) => report === undefined },
    );

  it('are the held ones too, by device less by hand', () => {
    const held = { verdict: 'held', hold: 'value', status: null } as const;
    const { differences } = compare([pair({}), pair(held, held)]);
    expect(differences.map(({ difference, isDoubted }) => [difference, isDoubted])).toEqual([
      [8, false],
      [8, true],
    ]);
  });

  it('are not what is no measurement, whose unit is in doubt, or what was taken back', () => {
    const { differences, setAside } = compare([
      pair({ verdict: 'rejected', systolic: 1108 }),
      pair({}, { verdict: 'held', hold: 'unit', systolic: 16 }),
      pair({}, { report: { at: 'OBX 4', doubts: ['status-unclear'] } }),
      pair({ verdict: 'rejected', rejectedByPerson: true }),
      pair({ status: 'entered-in-error' }),
      pair({ systolic: null }),
    ]);
    expect(differences).toEqual([]);
    expect(setAside).toEqual({ impossible: 1, doubtful: 2, takenBack: 2 });
  });

  it('are what was taken back where somebody asks for it, but never what is no measurement', () => {
    const { differences, setAside } = compare(
      [
        pair({ verdict: 'rejected', rejectedByPerson: true }),
        pair({ status: 'entered-in-error' }),
        pair({ verdict: 'rejected', systolic: 1108 }),
      ],
      true,
    );
    expect(differences).toHaveLength(2);
    expect(setAside).toEqual({ impossible: 1, doubtful: 0, takenBack: 0 });
  });
});

describe('days', () => {
  const at = (clock: string, siteZone = 'Europe/Vienna') => ({
    siteZone,
    clock: () => Date.parse(clock),
  });

  it('are the last four weeks of the site’s own days', () => {
    const period = readPeriod({}, at('2026-03-30T22:30:00Z'));
    expect(period).toMatchObject({ from: '2026-03-04', to: '2026-03-31' });
    expect(new Date(period.fromMs).toISOString()).toBe('2026-03-03T23:00:00.000Z');
    // The clocks went forward on 29 March.
    expect(new Date(period.toMs).toISOString()).toBe('2026-03-31T22:00:00.000Z');
  });

  it('may be one, must be in order, and a year at most', () => {
    const { fromMs, toMs } = readPeriod({ from: '2026-05-01', to: '2026-05-01' }, at('2026-06-01'));
    expect(toMs - fromMs).toBe(86_400_000);
    const ask = (from: string, to: string) => () => readPeriod({ from, to }, at('2026-06-01'));
    expect(ask('2026-05-02', '2026-05-01')).toThrow('after the last');
    expect(ask('2024-01-01', '2026-05-01')).toThrow('366 days');
  });
});

describe('people', () => {
  const person = {
    personId: '0d9f6a9e-40cf-4d4d-9b6e-3a6f0a4a9a11',
    person: { system: 'urn:example:staff', value: 'N-311' },
  };
  const other = { ...person, personId: '0d9f6a9e-40cf-4d4d-9b6e-3a6f0a4a9a12' };

  it('have their numbers for those who may see them', () => {
    expect(namePeople({ scopes: ['people.read'] }, 'a')(person)).toBe('N-311');
  });

  it('have else one name a report, and another in another', () => {
    const name = namePeople({ scopes: ['review.read'] }, 'a');
    expect(name(person)).toMatch(/^Person [2-9A-HJ-NP-Z]{5}$/);
    expect(name(person)).toBe(namePeople({ scopes: [] }, 'a')(person));
    expect(name(person)).not.toBe(name(other));
    expect(name(person)).not.toBe(namePeople({ scopes: [] }, 'b')(person));
  });
});

describe('written figures', () => {
  it('are rounded once, with a true minus, and no minus before nothing', () => {
    expect([writeNumber(-16.2941), writeNumber(-0.04), writeNumber(NaN)]).toEqual([
      '−16.3',
      '0.0',
      '–',
    ]);
    expect([writeSigned(3.14159), writeSigned(0.04), writeSigned(-2)]).toEqual([
      '+3.1',
      '0.0',
      '−2.0',
    ]);
    expect([writeChance(0), writeChance(0.0471)]).toEqual(['under 0.001', '0.047']);
  });

  it('for spreadsheets are numbers, or nothing', () => {
    expect([cellOf(-16.294117647), cellOf(0), cellOf(NaN)]).toEqual([-16.2941, 0, null]);
  });
});
