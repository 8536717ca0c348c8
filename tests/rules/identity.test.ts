import type { JudgingContext } from '../../src/vitals/shapes.js';
import {
  bornOn,
  contextOf,
  cuffPressure,
  kept,
  manualPressure,
  minutesFromNoon,
  NOON,
  palpatedPulse,
  respiratoryRate,
  saturation,
} from './build-context.js';
import { findingsOf, heard, judge } from './judge.js';

const IDENTIFIER = { system: 'urn:example:mrn', value: 'LF-30982' };

const claiming = (
  claim: { birthDate?: string; familyName?: string },
  changes: Partial<Omit<JudgingContext, 'set'>> = {},
) =>
  contextOf([respiratoryRate(16), saturation(97)], {
    ...changes,
    set: { patient: { identifier: IDENTIFIER, ...claim } },
  });

/** Two identifiers: Joint Commission NPSG.01.01.01 (from memory, unconfirmed). */
describe('patient-unknown', () => {
  it('holds every reading, and nothing goes out, however critical', () => {
    const judged = judge(contextOf([palpatedPulse(30), saturation(97)], { patient: null }));
    expect(judged.readings.map(({ verdict, hold, status }) => [verdict, hold, status])).toEqual([
      ['held', 'identity', null],
      ['held', 'identity', null],
    ]);
    expect(judged.readings[0]).toMatchObject({ critical: true, interpretation: {} });
  });

  it('leaves what is no measurement rejected', () => {
    const judged = judge(contextOf([palpatedPulse(900), saturation(97)], { patient: null }));
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual(['rejected', 'held']);
  });

  it('is the only thing said about who the patient is', () => {
    expect(heard(contextOf([saturation(97)], { patient: null, encounterOfAnother: true }))).toEqual(
      ['patient-unknown held'],
    );
  });
});

describe('patient-mismatch', () => {
  const registered = {
    birthDate: '1961-05-23',
    familyName: 'Thornbury',
    gender: 'female',
  } as const;

  it.each([
    [{ birthDate: '1961-05-23' }, false],
    [{ birthDate: '1961-05-24' }, true],
    [{ birthDate: '1961-05' }, false],
    [{ birthDate: '1961-06' }, true],
    [{ birthDate: '1961' }, false],
    [{ birthDate: '1962' }, true],
    [{ birthDate: '1961-05-23', familyName: 'Thornbury' }, false],
    [{ birthDate: '1961-05-23', familyName: 'Thornberry' }, true],
    [{ birthDate: '1961-05-24', familyName: 'Thornbury' }, true],
  ])('%j', (claim, mismatch) => {
    const findings = findingsOf('patient-mismatch', claiming(claim, { patient: registered }));
    expect(findings).toHaveLength(mismatch ? 1 : 0);
  });

  it.each([
    ['1961', '1961-05-23', false],
    ['1961-05', '1961-05-23', false],
    ['1961-04', '1961-05-23', true],
  ])('compares with a register that knows only %s', (birthDate, claimed, mismatch) => {
    const context = claiming({ birthDate: claimed }, { patient: bornOn(birthDate) });
    expect(findingsOf('patient-mismatch', context)).toHaveLength(mismatch ? 1 : 0);
  });

  it.each([
    ['THORNBURY', 'Thornbury', false],
    ['O’Hallorán-Weiß', "o'halloran weiss", false],
    ['Łukasiewicz', 'LUKASIEWICZ', false],
    ['Sørensen', 'Sorensen', false],
    ['van der Berg', 'Vanderberg', false],
    ['Ångström', 'Angstrom', false],
    ['Ítalo', 'Italo', false],
    ['Berg', 'Burg', true],
    ['Петрова', 'ПЕТРОВА', false],
    ['Петрова', 'Иванова', true],
  ])('compares the names %s and %s', (familyName, claimed, mismatch) => {
    const patient = { ...registered, familyName };
    const context = claiming({ familyName: claimed }, { patient });
    expect(findingsOf('patient-mismatch', context)).toHaveLength(mismatch ? 1 : 0);
  });

  it('holds for the encounter of another patient', () => {
    expect(heard(claiming({ birthDate: '1961-05-23' }, { encounterOfAnother: true }))).toEqual([
      'patient-mismatch held',
    ]);
  });

  it('holds for a reading before birth, the day of birth being none', () => {
    const bornToday = claiming({ birthDate: '2026-03-14' }, { patient: bornOn('2026-03-14') });
    expect(findingsOf('patient-mismatch', bornToday)).toEqual([]);
    const bornTomorrow = claiming({ birthDate: '2026-03-15' }, { patient: bornOn('2026-03-15') });
    expect(findingsOf('patient-mismatch', bornTomorrow)).toHaveLength(1);
  });

  it('does not tell what the register holds', () => {
    const [finding] = findingsOf('patient-mismatch', claiming({ familyName: 'Marsh' }));
    expect(JSON.stringify(finding)).not.toMatch(/Thornbury|1961/);
  });

  it('neither compares with nor quotes what was kept for the patient named', () => {
    const earlier = [
      kept(cuffPressure([188, 96], { takenAt: minutesFromNoon(-2) }), {
        status: null,
        verdict: 'held',
        hold: 'value',
      }),
    ];
    const context = contextOf([manualPressure([84, 50])], {
      earlier,
      set: { patient: { identifier: IDENTIFIER, familyName: 'Marsh' } },
    });
    expect(heard(context)).not.toContainEqual(expect.stringContaining('blood-pressure-methods'));
    expect(judge(context).publishEarlier).toEqual([]);
  });

  it('judges no size by the age of a patient in doubt', () => {
    const adult = contextOf([palpatedPulse(38)], {
      set: { patient: { identifier: IDENTIFIER, familyName: 'Marsh' } },
    });
    expect(judge(adult).readings[0]).toMatchObject({ interpretation: {}, critical: true });
    const fast = contextOf([palpatedPulse(135), respiratoryRate(85)], {
      set: { patient: { identifier: IDENTIFIER, familyName: 'Marsh' } },
    });
    expect(heard(fast)).toEqual(['patient-mismatch held']);
  });
});

describe('patient-single-identifier', () => {
  it('notes that no second identifier was sent', () => {
    expect(heard(claiming({}))).toEqual(['patient-single-identifier noted']);
  });

  it('notes that the register has nothing to compare with', () => {
    const unknownBirth = claiming({ birthDate: '1961-05-23' }, { patient: bornOn(null) });
    expect(heard(unknownBirth)).toEqual([
      'patient-single-identifier noted',
      'age-unknown noted 0+1',
    ]);
  });

  it('is silent when one of two can be confirmed', () => {
    const context = claiming(
      { birthDate: '1961-05-23', familyName: 'Thornbury' },
      { patient: bornOn(null) },
    );
    expect(heard(context)).toEqual(['age-unknown noted 0+1']);
  });
});

describe('second-identifier-missing', () => {
  const source = { attended: false, secondIdentifierRequired: true };

  it('holds the set of a source that must send one', () => {
    const judged = judge(claiming({}, { source }));
    expect(judged.findings.map(({ rule }) => rule)).toEqual(['second-identifier-missing']);
    expect(judged.readings.every(({ hold }) => hold === 'identity')).toBe(true);
  });

  it('is silent when it agrees', () => {
    expect(heard(claiming({ familyName: 'Thornbury' }, { source }))).toEqual([]);
  });
});

/** More than five minutes ahead (proposed; clocks of 1,700 devices, Pa Patient Saf Advis 2012;9:143). */
describe('time-in-future', () => {
  const taken = (ms: number) => ({ ...NOON, epochMs: NOON.epochMs + ms });
  const arrived = { receivedAtMs: NOON.epochMs };

  it.each([
    [5 * 60_000, 0],
    [5 * 60_000 + 1, 1],
    [-60_000, 0],
  ])('%i ms ahead', (ms, findings) => {
    const context = contextOf([respiratoryRate(16, { takenAt: taken(ms) })], arrived);
    expect(findingsOf('time-in-future', context)).toHaveLength(findings);
  });

  it('speaks once about a whole set and of single readings by name', () => {
    const late = { takenAt: taken(3_600_000) };
    expect(heard(contextOf([respiratoryRate(16, late), saturation(97, late)], arrived))).toEqual([
      'time-in-future held',
    ]);
    expect(heard(contextOf([respiratoryRate(16), saturation(97, late)], arrived))).toEqual([
      'time-in-future held 1',
    ]);
  });

  it('is a value hold: a critical reading goes out unconfirmed, its neighbours wait', () => {
    const late = { takenAt: taken(3_600_000) };
    const judged = judge(contextOf([saturation(84, late), respiratoryRate(16, late)], arrived));
    expect(judged.readings.map(({ hold, status }) => [hold, status])).toEqual([
      ['value', 'preliminary'],
      ['value', null],
    ]);
  });
});

describe('once a person has said whose readings they are', () => {
  const settled = { identitySettled: true };

  it.each([
    ['an identifier that nothing confirms', claiming({}, settled)],
    ['a birth date that is not the registered one', claiming({ birthDate: '1931-01-01' }, settled)],
    ['an encounter of another patient', claiming({}, { ...settled, encounterOfAnother: true })],
  ])('nobody asks again: %s', (_what, context) => {
    expect(judge(context)).toMatchObject({ verdict: 'accepted', findings: [] });
  });

  it('the time is asked about all the same', () => {
    const context = claiming({}, { ...settled, receivedAtMs: minutesFromNoon(-60).epochMs });
    expect(judge(context).findings.map(({ rule }) => rule)).toEqual(['time-in-future']);
  });
});

describe('when a person has said whose reading it is', () => {
  it('the identity rules are silent, and the others are not', () => {
    const settled = claiming(
      { birthDate: '1900-01-01' },
      { identitySettled: true, encounterOfAnother: true },
    );
    expect(heard(settled)).toEqual([]);
    const late = { ...settled, receivedAtMs: NOON.epochMs - 60 * 60_000 };
    expect(heard(late)).toEqual(['time-in-future held']);
  });
});
