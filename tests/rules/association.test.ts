/** Whose a device was, and what is registered of it (IHE Point-of-Care Identity Management, Revision 2.3). */
import type { DeviceReport } from '../../src/vitals/device-report.js';
import type {
  Association,
  DeviceFacts,
  IdentityClaim,
  JudgingContext,
  Reading,
} from '../../src/vitals/shapes.js';
import {
  contextOf,
  kept,
  NOON,
  oximeterPulse,
  palpatedPulse,
  saturation,
  temperature,
  UNATTENDED,
} from './build-context.js';
import { heard, judge } from './judge.js';

const MONITOR = { system: 'urn:example:device', value: 'MON-4' };
const IDENTIFIER = { system: 'urn:example:mrn', value: 'LF-30982' };
const SECOND = 1000;
const MINUTE = 60 * SECOND;

/** Times in ms from noon. */
const at = (ms: number): Reading['takenAt'] => ({ ...NOON, epochMs: NOON.epochMs + ms });
const own = (fromMs: number, toMs: number | null = null): Association => ({
  fromMs: NOON.epochMs + fromMs,
  toMs: toMs === null ? null : NOON.epochMs + toMs,
  ofThisPatient: true,
});
const anothers = (fromMs: number, toMs: number | null = null): Association => ({
  ...own(fromMs, toMs),
  ofThisPatient: false,
});
const facts = (associations: readonly Association[], changes: Partial<DeviceFacts> = {}) => [
  { device: MONITOR, registered: null, associations, clock: null, ...changes },
];
const measured = (ms: number, report: Partial<DeviceReport> = {}): Reading =>
  saturation(97, { takenAt: at(ms), device: MONITOR, report: { at: 'OBX 3', ...report } });

interface Case {
  readonly by?: IdentityClaim['by'];
  readonly typed?: boolean;
  readonly changes?: Partial<Omit<JudgingContext, 'set'>>;
}

/** A message that arrived at noon, and what was recorded of its device. */
function message(
  readings: readonly Reading[],
  devices: readonly DeviceFacts[] | undefined,
  { by = 'named', typed = false, changes = {} }: Case = {},
): JudgingContext {
  return contextOf(typed ? readings.map(withoutReport) : readings, {
    receivedAtMs: NOON.epochMs,
    ...(typed ? {} : { source: UNATTENDED }),
    ...(devices === undefined ? {} : { devices }),
    ...changes,
    set: {
      patient: { identifier: IDENTIFIER, ...(by === 'named' && { familyName: 'Thornbury' }) },
      ...(typed ? {} : { claim: { by, doubts: [] } }),
    },
  });
}

function withoutReport(given: Reading): Reading {
  const { report, ...typed } = given;
  expect(report).toBeDefined();
  return typed;
}

describe('a message that names its patient', () => {
  it.each([
    ['nothing is known of the device', undefined],
    ['the device was never given to anybody', facts([])],
    ['the device is this patient’s', facts([own(-60 * MINUTE)])],
    ['it was this patient’s then, and is nobody’s now', facts([own(-60 * MINUTE, -2 * MINUTE)])],
    [
      'it was this patient’s then, and is another’s now',
      facts([own(-60 * MINUTE, -2 * MINUTE), anothers(-2 * MINUTE)]),
    ],
    ['it was nobody’s then, and is nobody’s now', facts([own(-60 * MINUTE, -30 * MINUTE)])],
  ])('passes where %s', (_what, devices) => {
    expect(heard(message([measured(-5 * MINUTE)], devices))).toEqual([]);
  });
});

describe('before-association', () => {
  const given = facts([own(-10 * MINUTE)]);

  it('rejects what the device measured before it was given to the patient', () => {
    const judged = judge(message([measured(-10 * MINUTE - 1), measured(-5 * MINUTE)], given));
    expect(judged.readings.map(({ verdict, status }) => [verdict, status])).toEqual([
      ['rejected', null],
      ['accepted', 'preliminary'],
    ]);
    expect(judged.findings.map(({ rule }) => rule)).toEqual(['before-association']);
  });

  it.each(['named', 'association'] as const)('whoever tells the patient: %s', (by) => {
    expect(heard(message([measured(-11 * MINUTE)], given, { by }))).toEqual([
      'before-association rejected 0',
    ]);
  });

  it('also where the message names nobody, and the device was nobody’s then', () => {
    const next = facts([anothers(-10 * MINUTE)]);
    const changes = { patient: null };
    expect(heard(message([measured(-11 * MINUTE)], next, { by: 'nobody', changes }))).toEqual([
      'patient-not-named held',
      'before-association rejected 0',
    ]);
    // Whoever has it now did not have it then either: that lies before nothing.
    const last = facts([anothers(-60 * MINUTE, -20 * MINUTE)]);
    expect(heard(message([measured(-11 * MINUTE)], last, { by: 'nobody', changes }))).toEqual([
      'patient-not-named held',
    ]);
  });

  it('not where an earlier association of the same patient covers it', () => {
    const twice = facts([own(-60 * MINUTE, -20 * MINUTE), own(-10 * MINUTE)]);
    expect(heard(message([measured(-30 * MINUTE)], twice))).toEqual([]);
    expect(heard(message([measured(-15 * MINUTE)], twice))).toEqual([
      'before-association rejected 0',
    ]);
  });

  it('not where its time is not known: a clock that was never set lies before everything', () => {
    const unset = measured(-365 * 24 * 60 * MINUTE, { doubts: ['clock-unset'] });
    expect(heard(message([unset], given))).toEqual(['clock-unset held']);
  });

  it('not what a person typed who has the patient at hand', () => {
    expect(heard(message([measured(-11 * MINUTE)], given, { typed: true }))).toEqual([]);
  });

  it('not once a person has said whose it is', () => {
    const changes = { identitySettled: true };
    expect(heard(message([measured(-11 * MINUTE)], given, { changes }))).toEqual([]);
  });
});

describe('association-of-another', () => {
  const handedOn = facts([anothers(-60 * MINUTE, -10 * MINUTE), own(-8 * MINUTE)]);

  it.each([
    ['it was another’s then', -4 * MINUTE, facts([anothers(-60 * MINUTE, -2 * MINUTE)])],
    ['it is another’s', -4 * MINUTE, facts([anothers(-60 * MINUTE)])],
    ['it was nobody’s then and is another’s now', -4 * MINUTE, facts([anothers(-2 * MINUTE)])],
  ])('holds where %s, whoever the message names', (_what, ms, devices) => {
    const judged = judge(message([measured(ms)], devices));
    expect(judged.findings.map(({ rule }) => rule)).toEqual(['association-of-another']);
    expect(judged.readings[0]).toMatchObject({ verdict: 'held', hold: 'identity', status: null });
  });

  it('an end belongs to what comes next', () => {
    expect(heard(message([measured(-10 * MINUTE - 1)], handedOn))).toEqual([
      'before-association rejected 0',
      'association-of-another held 0',
    ]);
    expect(heard(message([measured(-10 * MINUTE)], handedOn))).toEqual([
      'before-association rejected 0',
    ]);
    expect(heard(message([measured(-6 * MINUTE)], handedOn))).toEqual([]);
  });

  it('holds also a set that a person typed: it may stand in the wrong chart', () => {
    const given = facts([anothers(-60 * MINUTE)]);
    expect(heard(message([measured(-4 * MINUTE)], given, { typed: true }))).toEqual([
      'association-of-another held 0',
    ]);
    const next = facts([anothers(-2 * MINUTE)]);
    expect(heard(message([measured(-4 * MINUTE)], next, { typed: true }))).toEqual([]);
  });

  it('looks at the time of arrival where that of measuring is not known', () => {
    const unknown = measured(0, { doubts: ['time-missing'] });
    expect(heard(message([unknown], facts([anothers(-60 * MINUTE)])))).toEqual([
      'association-of-another held 0',
      'time-missing held',
    ]);
  });

  it('tells nobody whose it is', () => {
    const [finding] = judge(
      message([measured(-4 * MINUTE)], facts([anothers(-60 * MINUTE)])),
    ).findings;
    expect(JSON.stringify(finding)).not.toMatch(/LF-|Thornbury/);
  });
});

describe('outside-association', () => {
  const by = 'association' as const;

  it.each([
    ['nobody recorded anything of it', undefined],
    ['it was given to nobody then', facts([own(-60 * MINUTE, -30 * MINUTE)])],
  ])('holds what only its device tells, where %s', (_what, devices) => {
    const judged = judge(message([measured(-5 * MINUTE)], devices, { by }));
    expect(judged.findings.map(({ rule }) => rule)).toEqual(['outside-association']);
    expect(judged.readings[0]).toMatchObject({ hold: 'identity', status: null });
  });

  it('passes what lies inside, and asks for no second identifier', () => {
    const changes = { source: { attended: false, secondIdentifierRequired: true } };
    const context = message([measured(-5 * MINUTE)], facts([own(-60 * MINUTE)]), { by, changes });
    expect(heard(context)).toEqual([]);
  });

  it('holds what has no time: nobody can tell that the device was this patient’s then', () => {
    const unknown = measured(0, { doubts: ['time-missing'] });
    expect(heard(message([unknown], facts([own(-60 * MINUTE)]), { by }))).toEqual([
      'outside-association held 0',
      'time-missing held',
    ]);
    // Not held by it when the message names the patient.
    expect(heard(message([unknown], facts([own(-60 * MINUTE)])))).toEqual(['time-missing held']);
  });

  it('holds a reading of which no device is told', () => {
    const loose = { ...measured(-5 * MINUTE), device: null };
    expect(heard(message([loose], facts([own(-60 * MINUTE)]), { by }))).toEqual([
      'outside-association held 0',
    ]);
  });
});

/** 60 s and a pair of 10 min: proposed. */
describe('association-fresh', () => {
  const given = (clock: DeviceFacts['clock'] = null) => facts([own(-2 * MINUTE)], { clock });
  const seen = (agoMs: number) => ({ offsetMs: 400, seenAtMs: NOON.epochMs - agoMs });

  it.each([
    [0, 1],
    [59_999, 1],
    [60_000, 0],
  ])('%i ms after the device was given to the patient', (ms, findings) => {
    const context = message([measured(-2 * MINUTE + ms)], given());
    expect(heard(context)).toEqual(Array(findings).fill('association-fresh held 0'));
  });

  it.each([
    [10 * MINUTE, 0],
    [10 * MINUTE + 1, 1],
  ])('a clock that was compared %i ms ago', (agoMs, findings) => {
    const context = message([measured(-100 * SECOND)], given(seen(agoMs)));
    expect(heard(context)).toHaveLength(findings);
  });

  it('holds the reading for whose it is, and later ones of the same message pass at once', () => {
    const context = message([measured(-90 * SECOND), palpated(-20 * SECOND)], given());
    const judged = judge(context);
    expect(
      judged.readings.map(({ hold, status, interpretation }) => [hold, status, interpretation]),
    ).toEqual([
      ['identity', null, {}],
      [null, 'preliminary', { value: 'N' }],
    ]);
  });

  it('passes what a person stands by in a message that names the patient', () => {
    const reviewed = measured(-90 * SECOND, { reviewed: true });
    expect(heard(message([reviewed], given()))).toEqual([]);
    expect(heard(message([reviewed], given(), { by: 'association' }))).toHaveLength(1);
    expect(heard(message([measured(-90 * SECOND)], given(), { typed: true }))).toEqual([]);
  });

  function palpated(ms: number): Reading {
    return palpatedPulse(72, { takenAt: at(ms), device: MONITOR, report: { at: 'OBX 4' } });
  }
});

describe('readings of one message of which some may be another’s', () => {
  const devices = facts([own(-2 * MINUTE)]);
  const pulse = (value: number, ms: number): Reading =>
    oximeterPulse(value, { takenAt: at(ms), device: MONITOR, report: { at: 'OBX 5' } });

  it('the others are judged by the age of the patient, and held against each other', () => {
    const judged = judge(
      message([pulse(128, -90 * SECOND), pulse(128, -30 * SECOND), palpatedPulse(72)], devices),
    );
    expect(judged.findings.map(({ rule, readings }) => [rule, readings])).toEqual([
      ['association-fresh', [0]],
      ['pulse-methods-disagree', [1, 2]],
    ]);
    expect(judged.readings.map(({ interpretation }) => interpretation)).toEqual([
      {},
      { value: 'H' },
      { value: 'N' },
    ]);
  });

  it('the others are held against what was kept, those in doubt are not', () => {
    const earlier = [kept(palpatedPulse(72, { takenAt: at(-MINUTE) }))];
    const judged = judge(
      message([pulse(128, -90 * SECOND), pulse(142, -30 * SECOND)], devices, {
        changes: { earlier },
      }),
    );
    expect(judged.findings.map(({ rule, readings }) => [rule, readings])).toEqual([
      ['association-fresh', [0]],
      ['value-critical', [1]],
      ['pulse-methods-disagree', [1]],
    ]);
    expect(judged.readings.map(({ status }) => status)).toEqual([null, 'preliminary']);
  });
});

describe('sign-not-allowed', () => {
  const registered = {
    signs: ['body-temperature'],
    disabled: false,
    timeAccuracyMs: null,
  } as const;
  const thermometer = facts([], { registered });

  it('holds a sign that the device is not registered for, as a value', () => {
    const warm = temperature(36.9, { device: MONITOR, takenAt: at(0), report: { at: 'OBX 1' } });
    const judged = judge(message([measured(0), warm], thermometer));
    expect(judged.readings.map(({ verdict, hold }) => [verdict, hold])).toEqual([
      ['held', 'value'],
      ['accepted', null],
    ]);
    expect(judged.findings).toMatchObject([{ rule: 'sign-not-allowed', readings: [0] }]);
  });

  it('is silent about a device of any sign, and about one that nobody registered', () => {
    const any = facts([], { registered: { ...registered, signs: null } });
    expect(heard(message([measured(0)], any))).toEqual([]);
    expect(heard(message([measured(0)], facts([])))).toEqual([]);
  });
});

describe('device-disabled', () => {
  const devices = facts([], { registered: { signs: null, disabled: true, timeAccuracyMs: null } });

  it('holds what comes from it; a critical value goes out at once', () => {
    const low = { ...measured(0), values: { value: { text: '80', number: 80 } } };
    const judged = judge(message([low], devices));
    expect(judged.readings[0]).toMatchObject({ hold: 'value', status: 'preliminary' });
    expect(judged.findings.map(({ rule }) => rule)).toEqual(['device-disabled', 'value-critical']);
  });
});
