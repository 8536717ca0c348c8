/** What the reader of a device's message could not vouch for, and what a device says of its own signal. */
import type { DeviceReport, ReportDoubt } from '../../src/vitals/device-report.js';
import { REPORT_DOUBTS, SIGNAL_DOUBTS } from '../../src/vitals/device-report.js';
import { judgedAnswer } from '../../src/vitals/answers.js';
import { RULES } from '../../src/rules/index.js';
import type { Reading } from '../../src/vitals/shapes.js';
import {
  bornOn,
  contextOf,
  kept,
  minutesFromNoon,
  NOON,
  oximeterPulse,
  palpatedPulse,
  reading,
  saturation,
  temperature,
  UNATTENDED,
} from './build-context.js';
import { findingsOf, heard, judge } from './judge.js';

const report = (changes: Partial<DeviceReport> = {}): { report: DeviceReport } => ({
  report: { at: 'OBX 4', ...changes },
});
const doubted = (...doubts: ReportDoubt[]) => report({ doubts });

/** A value that is low enough to be published at once, and one that is usual. */
const CRITICAL = 82;
const USUAL = 97;

const REJECTING = ['test-data', 'setting-not-measurement', 'value-unreadable'] as const;
const NOTING = [
  'code-by-name-only',
  'time-to-minute-only',
  'control-id-reused',
  'original-not-found',
] as const;
const HOLDING = [
  'code-name-mismatch',
  'codes-disagree',
  'status-unclear',
  'value-not-plain',
  'values-conflict',
  'site-unclear',
  'typed-in-value',
  'time-missing',
  'time-imprecise',
  'time-zone-missing',
  'clock-unset',
  'clock-stepped',
  'character-set-broken',
] as const;

describe('doubts of the reader of a message', () => {
  it('have a rule each, and no doubt is left out', () => {
    expect([...REJECTING, ...HOLDING, ...NOTING].sort()).toEqual([...REPORT_DOUBTS].sort());
    const ids = RULES.map(({ id }) => id);
    expect(ids).toEqual(expect.arrayContaining([...REPORT_DOUBTS]));
  });

  it.each(REJECTING)('%s rejects', (doubt) => {
    const judged = judge(contextOf([saturation(CRITICAL, doubted(doubt)), saturation(USUAL)]));
    expect(judged.readings[0]).toMatchObject({ verdict: 'rejected', status: null, hold: null });
    expect(judged.readings[1]).toMatchObject({ verdict: 'accepted', status: 'final' });
  });

  it.each(HOLDING)('%s holds the value: a critical one goes out at once, marked', (doubt) => {
    const context = contextOf([
      saturation(CRITICAL, doubted(doubt)),
      temperature(37.1, doubted(doubt)),
      saturation(USUAL),
    ]);
    expect(
      judge(context).readings.map(({ verdict, hold, status }) => [verdict, hold, status]),
    ).toEqual([
      ['held', 'value', 'preliminary'],
      ['held', 'value', null],
      ['accepted', null, 'final'],
    ]);
  });

  it.each(NOTING)('%s is a note', (doubt) => {
    const judged = judge(contextOf([saturation(USUAL, doubted(doubt))]));
    expect(judged.readings[0]).toMatchObject({ verdict: 'noted', status: 'final' });
  });

  it.each([
    ['test-data', 'marked as a test'],
    ['setting-not-measurement', 'set on the device'],
    ['value-unreadable', 'cannot be read'],
    ['code-name-mismatch', 'do not belong together'],
    ['codes-disagree', 'name different signs'],
    ['status-unclear', 'the status that came with it'],
    ['value-not-plain', 'not as a plain number'],
    ['values-conflict', 'of which one at most is right'],
    ['site-unclear', 'where on the body'],
    ['typed-in-value', 'typed into the device'],
    ['time-missing', 'the time of its arrival'],
    ['time-imprecise', 'less exactly than to the minute'],
    ['time-zone-missing', 'without an offset'],
    ['clock-unset', 'was never set'],
    ['clock-stepped', 'was set while this was measured'],
    ['character-set-broken', 'names and remarks may be garbled'],
    ['code-by-name-only', 'sent by name alone'],
    ['time-to-minute-only', 'to the minute only'],
    ['control-id-reused', 'the control id of an earlier one'],
    ['original-not-found', 'never received here'],
  ] as const)(
    '%s says where it stands in the message, what is wrong, and what to do',
    (doubt, words) => {
      const [finding] = findingsOf(doubt, contextOf([saturation(USUAL, doubted(doubt))]));
      expect(finding?.message).toMatch(/^Oxygen saturation \(OBX 4\): .{20,}\.$/);
      expect(finding?.message).toContain(words);
      expect(finding?.advice).toMatch(/^[A-Z].{20,}\.$/);
    },
  );

  it.each(REPORT_DOUBTS)(
    '%s of a whole message is told once, and lets no usual value out',
    (doubt) => {
      const all = [saturation(CRITICAL, doubted(doubt)), temperature(37.1, doubted(doubt))];
      const judged = judge(contextOf(all));
      expect(findingsOf(doubt, contextOf(all))).toHaveLength(doubt === 'values-conflict' ? 2 : 1);
      expect(judged.readings[1]?.status).not.toBe('preliminary');
    },
  );

  it('are silent about a set that a person typed', () => {
    expect(heard(contextOf([saturation(USUAL), palpatedPulse(72)]))).toEqual([]);
  });

  it('have no say over whose readings they are', () => {
    const rules = RULES.filter(({ id }) => REPORT_DOUBTS.some((doubt) => doubt === id));
    expect(rules.filter(({ hold }) => hold === 'identity')).toEqual([]);
  });
});

/** HL7 v2.9.1 chapter 2A, NM: no comma, no exponent, digits before the point. */
describe('value-unreadable', () => {
  const unread = (asSent?: string) =>
    reading(
      'body-temperature',
      {},
      report({ doubts: ['value-unreadable'], ...(asSent === undefined ? {} : { asSent }) }),
    );

  it('leaves a reading without a value: verdict, answer and neighbours stand it', () => {
    const context = contextOf([unread('98,6'), saturation(USUAL), palpatedPulse(72)], {
      source: UNATTENDED,
    });
    const judged = judge(context);
    expect(judged.readings.map(({ verdict }) => verdict)).toEqual([
      'rejected',
      'accepted',
      'accepted',
    ]);
    const answer = judgedAnswer(context.set, null, judged, { idOf: () => null, discreet: true });
    expect(answer).toMatchObject({
      verdict: 'rejected',
      readings: [{ index: 0, vital: 'body-temperature', verdict: 'rejected' }, {}, {}],
    });
  });

  it('tells what was sent, cut short', () => {
    const [finding] = findingsOf('value-unreadable', contextOf([unread('1e308')]));
    expect(finding?.message).toContain('"1e308" cannot be read');
    const [long] = findingsOf('value-unreadable', contextOf([unread('9'.repeat(200))]));
    expect(long?.message.length).toBeLessThan(150);
    const [none] = findingsOf('value-unreadable', contextOf([unread()]));
    expect(none?.message).toContain('what was sent as its value');
  });
});

describe('values-conflict', () => {
  const one = (value: number, changes: Partial<Reading> = {}) =>
    saturation(value, { ...doubted('values-conflict'), ...changes });

  it('puts the values of one measurement into one finding: one goes out with the other', () => {
    const judged = judge(contextOf([one(CRITICAL), one(USUAL), temperature(37)]));
    expect(judged.findings.filter(({ rule }) => rule === 'values-conflict')).toMatchObject([
      { readings: [0, 1] },
    ]);
    expect(judged.readings.map(({ status }) => status)).toEqual([
      'preliminary',
      'preliminary',
      'final',
    ]);
  });

  it('tells those of two times, and of two signs, apart', () => {
    const later = { takenAt: minutesFromNoon(-2) };
    const pulse = oximeterPulse(72, doubted('values-conflict'));
    expect(
      findingsOf('values-conflict', contextOf([one(96), one(97, later), pulse])).map(
        ({ readings }) => readings,
      ),
    ).toEqual([[0], [1], [2]]);
  });
});

/** IHE Devices TF-2: a metric without a time has that of its OBR; where there is none, nobody knows it. */
describe('time-missing', () => {
  it('says that its time is the time of arrival', () => {
    const context = contextOf([saturation(USUAL, doubted('time-missing'))]);
    expect(findingsOf('time-missing', context)[0]?.message).toContain('the time of its arrival');
  });

  it.each(['time-imprecise', 'time-zone-missing', 'clock-unset'] as const)(
    '%s says so too where it is',
    (doubt) => {
      const at = (takenAt: Reading['takenAt']) =>
        findingsOf(
          doubt,
          contextOf([saturation(USUAL, { ...doubted(doubt), takenAt })], {
            receivedAtMs: NOON.epochMs,
          }),
        )[0]?.message;
      expect(at(NOON)).toContain('the time of its arrival stands in its place');
      expect(at(minutesFromNoon(-60))).not.toContain('arrival');
    },
  );
});

describe('clock-unset', () => {
  it('is no evidence that the patient was not born', () => {
    const takenAt = { epochMs: Date.UTC(1999, 11, 31, 23), offsetMinutes: 0 };
    const context = contextOf([saturation(CRITICAL, { ...doubted('clock-unset'), takenAt })], {
      patient: bornOn('2001-04-05'),
    });
    expect(heard(context)).toEqual(expect.arrayContaining(['clock-unset held']));
    expect(heard(context)).not.toContainEqual(expect.stringContaining('patient-mismatch'));
    expect(judge(context).readings[0]).toMatchObject({ hold: 'value', status: 'preliminary' });
  });
});

/** HL7 Point-of-Care Device guide: measurement status, OBX-8 QUES, CAL and EARLY. */
describe('signal-doubtful', () => {
  it.each(SIGNAL_DOUBTS)('%s: out as preliminary, never held for it, with a note', (signal) => {
    const judged = judge(contextOf([saturation(USUAL, report({ signal: [signal] }))]));
    expect(judged.readings[0]).toMatchObject({
      verdict: 'noted',
      hold: null,
      status: 'preliminary',
      interpretation: { value: 'N' },
    });
    expect(judged.findings).toMatchObject([{ rule: 'signal-doubtful', readings: [0] }]);
  });

  it('is preliminary also where somebody reviewed the value', () => {
    const reviewed = report({ signal: ['questionable'], reviewed: true });
    expect(judge(contextOf([saturation(USUAL, reviewed)])).readings[0]?.status).toBe('preliminary');
  });

  it('holds no sound reading for contradicting a doubtful signal, and supports none', () => {
    const doubtful = report({ signal: ['questionable'] });
    expect(heard(contextOf([palpatedPulse(72), oximeterPulse(150, doubtful)]))).not.toContainEqual(
      expect.stringContaining('pulse-methods'),
    );
    const supported = [palpatedPulse(252), oximeterPulse(254, doubtful)];
    expect(judge(contextOf(supported)).readings[0]?.verdict).toBe('held');
    const sound = [palpatedPulse(252), oximeterPulse(254, report())];
    expect(judge(contextOf(sound)).readings[0]?.verdict).toBe('noted');
  });
});

describe('a reading that may be another sign', () => {
  it('holds no other reading, in the set or kept before', () => {
    const other = oximeterPulse(98, doubted('code-name-mismatch'));
    expect(heard(contextOf([palpatedPulse(60), other]))).toEqual(['code-name-mismatch held 1']);
    const earlier = [kept(other, { verdict: 'held', hold: 'value', status: null })];
    expect(heard(contextOf([palpatedPulse(60)], { earlier }))).toEqual([]);
  });
});

describe('who stands by a reading', () => {
  const statusOf = (attended: boolean, reviewed?: boolean) =>
    judge(
      contextOf([saturation(USUAL, report(reviewed === undefined ? {} : { reviewed }))], {
        source: { attended, secondIdentifierRequired: false },
      }),
    ).readings[0]?.status;

  it('the message decides, else the registration of the source', () => {
    expect([statusOf(true), statusOf(false)]).toEqual(['final', 'preliminary']);
    expect([statusOf(true, false), statusOf(false, true)]).toEqual(['preliminary', 'final']);
    expect([statusOf(true, true), statusOf(false, false)]).toEqual(['final', 'preliminary']);
  });

  it('a confirmation counts from no unattended source, and from no value that nobody reviewed', () => {
    const confirmed = (reviewed: boolean | undefined, attended: boolean) =>
      judge(
        contextOf(
          [
            temperature(42.4, {
              context: { confirmed: true },
              ...report(reviewed === undefined ? {} : { reviewed }),
            }),
          ],
          { source: { attended, secondIdentifierRequired: false } },
        ),
      ).readings[0]?.verdict;
    expect([confirmed(undefined, true), confirmed(true, true)]).toEqual(['noted', 'noted']);
    expect([confirmed(false, true), confirmed(true, false)]).toEqual(['held', 'held']);
  });
});
