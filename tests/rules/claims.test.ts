/** What a message itself says about whose readings it brings. */
import { IDENTITY_DOUBTS } from '../../src/vitals/device-report.js';
import type { IdentityClaim } from '../../src/vitals/shapes.js';
import { contextOf, palpatedPulse, saturation } from './build-context.js';
import { heard, judge } from './judge.js';

const claiming = (claim: IdentityClaim, changes: Parameters<typeof contextOf>[1] = {}) =>
  contextOf([palpatedPulse(30), saturation(97)], {
    ...changes,
    set: {
      claim,
      patient: {
        identifier: { system: 'urn:example:mrn', value: 'LF-30982' },
        familyName: 'Thornbury',
      },
    },
  });
const rulesOf = (...asked: Parameters<typeof claiming>) =>
  judge(claiming(...asked)).findings.map(({ rule }) => rule);

/** HL7 v2.9.1 chapter 3, PID-31; IHE Devices TF-2 Appendix B, PID-3. */
describe('doubts of a message about its patient', () => {
  it.each(IDENTITY_DOUBTS)(
    '%s holds every reading, however critical, and nothing goes out',
    (doubt) => {
      const judged = judge(claiming({ by: 'named', doubts: [doubt] }));
      expect(judged.findings.map(({ rule }) => rule)).toContain(doubt);
      expect(judged.readings.map(({ verdict, hold, status }) => [verdict, hold, status])).toEqual([
        ['held', 'identity', null],
        ['held', 'identity', null],
      ]);
    },
  );

  it.each(IDENTITY_DOUBTS)('%s is not asked once a person has said whose they are', (doubt) => {
    expect(
      heard(claiming({ by: 'named', doubts: [doubt] }, { identitySettled: true })),
    ).not.toContain(`${doubt} held`);
  });

  it('each is told: identity-declared-unknown, authority-missing, identifiers-conflict', () => {
    const said = rulesOf({ by: 'named', doubts: [...IDENTITY_DOUBTS] });
    expect(said).toEqual(expect.arrayContaining([...IDENTITY_DOUBTS]));
  });

  it('a message without any says nothing', () => {
    expect(rulesOf({ by: 'named', doubts: [] })).toEqual(['value-critical']);
  });
});

describe('patient-not-named', () => {
  it('holds a message that names nobody, and patient-unknown does not speak as well', () => {
    const nobody = { by: 'nobody', doubts: [] } as const;
    const said = ['patient-not-named held', 'value-critical noted 0'];
    expect(heard(claiming(nobody, { patient: null }))).toEqual(said);
    const devices = [
      {
        device: { system: 'urn:example:device', value: 'MON-4' },
        registered: null,
        associations: [{ fromMs: 0, toMs: null, ofThisPatient: false }],
        clock: null,
      },
    ];
    expect(heard(claiming(nobody, { patient: null, devices }))).toEqual(said);
  });

  it('leaves it to patient-unknown where somebody is named', () => {
    expect(rulesOf({ by: 'named', doubts: [] }, { patient: null })).toContain('patient-unknown');
  });
});
