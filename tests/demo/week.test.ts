import { checkSet } from '../../src/contract/compile.js';
import { INCIDENTS } from '../../src/demo/incidents.js';
import { WARD, birthDateOf } from '../../src/demo/ward.js';
import { weekBefore } from '../../src/demo/week.js';
import type { ArrivingSet } from '../../src/demo/week.js';
import { composeStages } from '../../src/judging.js';
import { normaliseSet } from '../../src/normalise/normalise-set.js';
import { EditionShelf } from '../../src/store/edition-shelf.js';
import { DEFAULT_LIMITS } from '../../src/vitals/limits.js';
import type { JudgedSet, JudgingFacts } from '../../src/vitals/shapes.js';

const HOUR_MS = 60 * 60 * 1000;
const NOW_MS = Date.parse('2026-06-10T13:37:12Z');

/** Sets that are meant to go wrong: an incident at a bed, or one that belongs to no round. */
const STRAY_PLACES = ['LF-21002 larkfield/13', 'LF-20301 larkfield/11'];
const isStray = ({ set }: ArrivingSet): boolean =>
  set.encounter === undefined &&
  STRAY_PLACES.includes(`${set.patient.identifier.value} ${set.location ?? ''}`);

const stages = composeStages({
  editions: new EditionShelf(),
  holdMinutes: { value: 60, unit: 15 },
  onRuleFailure: (rule) => {
    throw new Error(`the rule ${rule} failed`);
  },
  onSlowRule: () => undefined,
});

/** Judged alone, by the real rules, as of its arrival. */
function judge({ set, from, receivedAtMs }: ArrivingSet, nowMs: number): JudgedSet {
  const patient = WARD.find(({ mrn }) => mrn === set.patient.identifier.value);
  const facts: JudgingFacts = {
    set: normaliseSet(set),
    receivedAtMs,
    patient: patient
      ? {
          birthDate: birthDateOf(patient, nowMs),
          familyName: patient.familyName,
          gender: patient.gender,
        }
      : null,
    encounterOfAnother: false,
    source: { attended: from === 'ward', secondIdentifierRequired: false },
    earlier: [],
    history: [],
  };
  return stages.judge(facts, { number: 1, limits: DEFAULT_LIMITS });
}

describe('the ward Larkfield', () => {
  it('has people from newborn to old age', () => {
    const ageDays = WARD.map(
      (patient) => (NOW_MS - Date.parse(birthDateOf(patient, NOW_MS))) / (24 * HOUR_MS),
    );
    expect(WARD.length).toBeGreaterThanOrEqual(12);
    expect(Math.min(...ageDays)).toBeLessThan(28);
    expect(Math.max(...ageDays)).toBeGreaterThan(85 * 365.25);
    expect(ageDays.filter((days) => days < 18 * 365.25).length).toBeGreaterThanOrEqual(4);
  });

  it('gives nobody the number, the visit or the bed of another', () => {
    for (const key of ['mrn', 'visit', 'bed', 'familyName'] as const) {
      expect(new Set(WARD.map((patient) => patient[key])).size).toBe(WARD.length);
    }
  });
});

describe('the week of the ward', () => {
  const week = weekBefore(NOW_MS);

  it('is the same every time', () => {
    expect(weekBefore(NOW_MS)).toEqual(week);
  });

  it('names the same sets whenever it is made', () => {
    const setIds = (sets: readonly ArrivingSet[]): string[] =>
      sets.map(({ set }) => set.setId).sort();
    expect(setIds(weekBefore(NOW_MS + 31 * HOUR_MS))).toEqual(setIds(week));
    expect(new Set(setIds(week)).size).toBe(week.length);
  });

  it('has sets that the contract takes, all of them', () => {
    for (const { set } of week) {
      expect(checkSet(JSON.parse(JSON.stringify(set)))).toMatchObject({ ok: true });
    }
  });

  it('has four sets a day for each patient, of about seven readings', () => {
    for (const { mrn } of WARD) {
      const sets = week.filter(
        (one) => one.from === 'ward' && one.set.patient.identifier.value === mrn && !isStray(one),
      );
      expect(sets).toHaveLength(28);
      const readings = sets.reduce((sum, { set }) => sum + set.readings.length, 0);
      expect(readings / sets.length).toBeGreaterThan(5);
      expect(readings / sets.length).toBeLessThan(10);
    }
  });

  it('arrives in order, minutes after each set was taken, and ends shortly before now', () => {
    const arrivals = week.map(({ receivedAtMs }) => receivedAtMs);
    expect(arrivals).toEqual([...arrivals].sort((a, b) => a - b));
    for (const { set, receivedAtMs } of week) {
      const delayMs = receivedAtMs - Date.parse(set.takenAt);
      expect(delayMs).toBeGreaterThan(0);
      expect(delayMs).toBeLessThan(HOUR_MS / 4);
      expect(Date.parse(set.takenAt)).toBeGreaterThan(NOW_MS - (7 * 24 + 1) * HOUR_MS);
    }
    const last = arrivals.at(-1) ?? 0;
    expect(NOW_MS - last).toBeGreaterThan(0);
    expect(NOW_MS - last).toBeLessThan(HOUR_MS / 2);
  });

  // Every hour of the day has its own rhythm, so chance must not break out at any of them.
  it.each([0, 3, 6, 9, 12, 15, 18, 21])(
    'goes wrong only where it is meant to (from %i h)',
    (hour) => {
      const nowMs = NOW_MS + hour * HOUR_MS;
      const wrong = weekBefore(nowMs).filter((arriving) => {
        const { verdict } = judge(arriving, nowMs);
        return verdict === 'held' || verdict === 'rejected';
      });
      const incidents = wrong.filter((one) => !isStray(one));
      const meant = new Set(INCIDENTS.map(({ mrn }) => mrn));
      expect(incidents.every(({ set }) => meant.has(set.patient.identifier.value))).toBe(true);
      expect(incidents).toHaveLength(11);
      expect(wrong.filter(isStray)).toHaveLength(2);
    },
  );

  it('has each incident at a bed and a round that there is, one at a time', () => {
    const places = INCIDENTS.map(({ mrn, round }) => `${mrn} ${round}`);
    expect(new Set(places).size).toBe(places.length);
    for (const { mrn, round } of INCIDENTS) {
      expect(WARD.map((patient) => patient.mrn)).toContain(mrn);
      expect(round).toBeGreaterThanOrEqual(0);
      expect(round).toBeLessThan(28);
    }
  });
});
