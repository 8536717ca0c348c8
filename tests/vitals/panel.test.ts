/**
 * What becomes of a panel as its readings change. Statuses: definitions of the FHIR R4 4.0.1 code system
 * observation-status (preliminary: may be incomplete or unverified; amended: modified after being final;
 * corrected: modified to correct an error; entered-in-error: withdrawn); members: structure definition
 * vitalspanel, `hasMember` 1..*.
 */
import fc from 'fast-check';
import { nextPanel } from '../../src/vitals/panel.js';
import type { KeptPanel, PanelReading, PanelState } from '../../src/vitals/panel.js';
import { OBSERVATION_STATUSES } from '../../src/vitals/words.js';
import type { ObservationStatus } from '../../src/vitals/words.js';

const AT = Date.UTC(2026, 2, 1, 7, 15);
const MINUTE = 60_000;

function reading(
  readingId: string,
  status: ObservationStatus = 'final',
  more: Partial<PanelReading> = {},
): PanelReading {
  return { readingId, status, patientKey: 1, takenAtMs: AT, own: true, ...more };
}

function kept(state: PanelState | null, wasFinal = state?.status === 'final'): KeptPanel {
  if (state === null) throw new Error('no panel');
  return { ...state, wasFinal };
}

const A = reading('a');
const B = reading('b');
const C = reading('c');
const FINAL = kept(nextPanel(null, [A, B]));

describe('the first version', () => {
  it.each<[string, PanelReading[], string | null]>([
    ['nothing', [], null],
    ['one reading', [A], null],
    ['one that holds', [A, reading('b', 'entered-in-error')], null],
    ['two', [A, B], 'final a+b'],
    ['one of them preliminary', [A, reading('b', 'preliminary')], 'preliminary a+b'],
    ['corrected ones', [reading('a', 'corrected'), reading('b', 'amended')], 'final a+b'],
    ['one not done', [A, reading('b', 'cancelled')], 'final a+b'],
    ['none done', [reading('a', 'cancelled'), reading('b', 'cancelled')], 'cancelled a+b'],
    ['two patients', [A, reading('b', 'final', { patientKey: 2 })], null],
    [
      'two of the second patient',
      [A, reading('b', 'final', { patientKey: 2 }), reading('c', 'final', { patientKey: 2 })],
      'final b+c',
    ],
    [
      'only what others brought',
      [
        { ...A, own: false },
        { ...B, own: false },
      ],
      null,
    ],
    ['one of its own', [{ ...A, own: false }, B], 'final a+b'],
    ['15 minutes', [A, { ...B, takenAtMs: AT + 15 * MINUTE }], 'final a+b'],
    ['longer', [A, { ...B, takenAtMs: AT + 15 * MINUTE + 1 }], null],
  ])('of %s', (_, published, expected) => {
    const panel = nextPanel(null, published);
    expect(panel === null ? null : `${panel.status} ${panel.members.join('+')}`).toBe(expected);
  });

  it('has the earliest time of those that the set brought', () => {
    const early = { ...A, own: false, takenAtMs: AT - MINUTE };
    expect(nextPanel(null, [early, { ...B, takenAtMs: AT + MINUTE }, C])?.takenAtMs).toBe(AT);
  });
});

describe('the next version', () => {
  it.each<[string, KeptPanel, PanelReading[], string | null]>([
    ['nothing changed', FINAL, [A, B], null],
    ['a value was corrected', FINAL, [reading('a', 'corrected'), B], null],
    ['one more', FINAL, [A, B, C], 'amended a+b+c'],
    ['one more, preliminary', FINAL, [A, B, reading('c', 'preliminary')], 'preliminary a+b+c'],
    [
      'one withdrawn',
      kept(nextPanel(null, [A, B, C])),
      [reading('a', 'entered-in-error'), B, C],
      'corrected b+c',
    ],
    ['one left', FINAL, [A, reading('b', 'entered-in-error')], 'entered-in-error a+b'],
    ['a time was corrected', FINAL, [{ ...A, takenAtMs: AT - MINUTE }, B], 'corrected a+b'],
    ['it was moved far', FINAL, [{ ...A, takenAtMs: AT - 900 * MINUTE }, B], 'corrected a+b'],
    [
      'its patient was merged',
      FINAL,
      [A, B].map((one) => ({ ...one, patientKey: 2 })),
      'final a+b',
    ],
    [
      'two became two patients',
      FINAL,
      [A, reading('b', 'final', { patientKey: 2 })],
      'entered-in-error a',
    ],
    [
      'it is settled for the first time',
      kept(nextPanel(null, [A, reading('b', 'preliminary')])),
      [A, B],
      'final a+b',
    ],
    [
      'it is settled again',
      { ...kept(nextPanel(null, [A, B, reading('c', 'preliminary')])), wasFinal: true },
      [A, B, C],
      'amended a+b+c',
    ],
    [
      'what was in error has two again',
      { ...FINAL, status: 'entered-in-error' },
      [A, C],
      'corrected a+c',
    ],
    [
      'what was not done was',
      { ...FINAL, status: 'cancelled', wasFinal: false },
      [A, B],
      'final a+b',
    ],
  ])('when %s', (_, before, published, expected) => {
    const panel = nextPanel(before, published);
    expect(panel === null ? null : `${panel.status} ${panel.members.join('+')}`).toBe(expected);
  });
});

const readings = fc
  .array(
    fc.record({
      status: fc.constantFrom(...OBSERVATION_STATUSES),
      patientKey: fc.constantFrom(1, 1, 1, 2),
      takenAtMs: fc.constantFrom(AT, AT + MINUTE, AT + 5 * MINUTE),
      own: fc.constantFrom(true, true, false),
    }),
    { maxLength: 6 },
  )
  .map((list) => list.map((one, i): PanelReading => ({ readingId: `r${i}`, ...one })));

describe('whatever happens to the readings', () => {
  it('the newest version says what they are now, and there is none without need', () => {
    fc.assert(
      fc.property(fc.array(readings, { minLength: 1, maxLength: 8 }), (states) => {
        let before = null as KeptPanel | null;
        for (const published of states) {
          const next = nextPanel(before, published);
          if (next !== null) {
            const settled: readonly string[] = ['final', 'amended', 'corrected'];
            const wasFinal: boolean = before?.wasFinal === true || settled.includes(next.status);
            before = { ...next, wasFinal };
          }
          // Asked again about the same, it has no more to say.
          expect(nextPanel(before, published)).toBeNull();
          checkAgainst(before, published);
        }
      }),
    );
  });
});

/** The rules told once more, in their own words. */
function checkAgainst(panel: KeptPanel | null, published: readonly PanelReading[]): void {
  const live = published.filter(({ status }) => status !== 'entered-in-error');
  const possible = [1, 2].filter((key) => {
    const ofPatient = live.filter(({ patientKey }) => patientKey === key);
    return ofPatient.length >= 2 && ofPatient.some(({ own }) => own);
  });
  if (panel === null) {
    expect(possible).toEqual([]);
    return;
  }
  expect(panel.members.length).toBeGreaterThan(0);
  expect(panel.status === 'entered-in-error').toBe(possible.length === 0);
  if (panel.status === 'entered-in-error') return;
  const members = live.filter(({ patientKey }) => patientKey === panel.patientKey);
  expect(panel.members).toEqual(members.map(({ readingId }) => readingId));
  const isUnsettled = members.some(({ status }) => status === 'preliminary');
  expect(panel.status === 'preliminary').toBe(isUnsettled);
  expect(panel.takenAtMs).toBe(
    Math.min(...members.filter(({ own }) => own).map(({ takenAtMs }) => takenAtMs)),
  );
}
