import fc from 'fast-check';
import { buildSet } from '../../../src/browser/bedside/form/build-set.js';
import {
  addEntry,
  changeEntry,
  emptyForm,
  isComplete,
  openStep,
} from '../../../src/browser/bedside/form/change-form.js';
import { nextStep } from '../../../src/browser/bedside/form/next-step.js';
import { offerChoices, noteChoices } from '../../../src/browser/bedside/form/offer-choices.js';
import { reopenSet } from '../../../src/browser/bedside/form/reopen-set.js';
import type { Entry, SetForm } from '../../../src/browser/bedside/form/set-form.js';
import { STEPS, stepOf, type StepId } from '../../../src/browser/bedside/form/steps.js';
import { checkSet } from '../../../src/contract/compile.js';
import { CATALOGUE } from '../../../src/vitals/catalogue.js';
import {
  ABSENT_REASONS,
  CONSCIOUSNESS_CODES,
  CUFF_SIZES,
  POSITIONS,
  SIDES,
} from '../../../src/vitals/words.js';

const SET_ID = '6f1f3b52-9a44-4c2f-8d5a-0e6b2c4a7d10';
const PATIENT = {
  claimed: {
    identifier: { system: 'urn:example:mrn', value: 'LF-20417' },
    birthDate: '1958-11-02',
  },
  found: null,
  unregistered: null,
} as const;
const EMPTY = emptyForm(SET_ID, PATIENT);

/** One entry of a step, filled. */
function formWith(...entries: readonly [StepId, Partial<Entry>][]): SetForm {
  return entries.reduce((form, [step, change], place) => {
    const added = addEntry(form, step);
    const takenAt = `2026-03-01T08:${String(10 + place)}:00+01:00`;
    return changeEntry(added.form, added.entry.id, { takenAt, ...change });
  }, EMPTY);
}

function readingsOf(form: SetForm): readonly object[] {
  return buildSet(form, {})?.set.readings ?? [];
}

describe('the set that the form makes', () => {
  it('is none as long as nothing is entered', () => {
    expect(buildSet(EMPTY, {})).toBeNull();
    expect(buildSet(openStep(EMPTY, 'pulse').form, {})).toBeNull();
  });

  it('has the count and its seconds, not the rate', () => {
    const form = formWith(['breaths', { counted: { count: 9, seconds: 30 }, regular: true }]);
    expect(readingsOf(form)).toEqual([
      { vital: 'respiratory-rate', method: 'counted', count: 9, seconds: 30, regular: true },
    ]);
  });

  it('tells both signs of an oximeter, each with its unit and place', () => {
    const numbers = { saturation: '96', 'oximeter-pulse': '74' };
    const form = formWith(['oximeter', { numbers, site: 'finger', note: 'Cold hands' }]);
    const way = { method: 'pulse-oximetry', site: 'finger' };
    expect(readingsOf(form)).toEqual([
      { vital: 'oxygen-saturation', ...way, value: 96, unit: '%', note: 'Cold hands' },
      { vital: 'pulse-rate', ...way, value: 74, unit: '/min' },
    ]);
  });

  it('keeps what nobody said out of it', () => {
    const form = formWith(['temperature', { numbers: { temperature: '37.0' } }]);
    expect(readingsOf(form)).toEqual([
      { vital: 'body-temperature', method: 'thermometry', value: '37.0', unit: 'Cel' },
    ]);
  });

  it('takes the site’s unit, and the one chosen before that', () => {
    const form = formWith(['temperature', { numbers: { temperature: '99.1' } }]);
    const site = { 'body-temperature': '[degF]' };
    expect(buildSet(form, site)?.set.readings[0]?.unit).toBe('[degF]');
    const chosen = changeEntry(form, 1, { units: { temperature: 'Cel' } });
    expect(buildSet(chosen, site)?.set.readings[0]?.unit).toBe('Cel');
  });

  it('gives both parts of a pressure one unit, and the pulse beside it its own', () => {
    const numbers = { systolic: '18.25', diastolic: '10.90', 'cuff-pulse': '74' };
    const units = { systolic: 'kPa', diastolic: 'kPa', mean: 'kPa' } as const;
    const form = formWith(['pressure-by-cuff', { numbers, units, cuffSize: 'adult' }]);
    expect(readingsOf(form)).toEqual([
      {
        vital: 'blood-pressure',
        method: 'oscillometry',
        systolic: 18.25,
        diastolic: '10.90',
        unit: 'kPa',
        cuffSize: 'adult',
      },
      { vital: 'pulse-rate', method: 'oscillometry', value: 74, unit: '/min' },
    ]);
  });

  it('says why a sign is absent, and no value with it', () => {
    const form = formWith(['pressure-by-hand', { absent: 'refused', side: 'left' }]);
    expect(readingsOf(form)).toEqual([
      { vital: 'blood-pressure', side: 'left', absent: 'refused' },
    ]);
  });

  it('leaves out a pulse of which nobody said how it was taken', () => {
    const form = formWith(['pulse', { counted: { count: 36, seconds: 30 } }]);
    expect(buildSet(form, {})).toBeNull();
  });

  it('has the readings in the order in which they were taken, each with its own time', () => {
    const form = formWith(
      ['temperature', { numbers: { temperature: '37.1' }, takenAt: '2026-03-01T08:20:00+01:00' }],
      ['breaths', { counted: { count: 8, seconds: 30 }, takenAt: '2026-03-01T07:15:00+00:00' }],
    );
    const built = buildSet(form, {});
    expect(built?.set.takenAt).toBe('2026-03-01T07:15:00+00:00');
    expect(built?.entryIds).toEqual([2, 1]);
    expect(built?.set.readings.map(({ takenAt }) => takenAt)).toEqual([
      undefined,
      '2026-03-01T08:20:00+01:00',
    ]);
  });

  it('has a repeat beside the first, which stays as it was', () => {
    const first = { systolic: '118', diastolic: '76' };
    const second = { systolic: '146', diastolic: '82' };
    const form = formWith(
      ['pressure-by-hand', { method: 'auscultation', numbers: first }],
      ['pressure-by-hand', { method: 'auscultation', numbers: second }],
    );
    expect(readingsOf(form).map((one) => ('systolic' in one ? one.systolic : null))).toEqual([
      118, 146,
    ]);
  });
});

const times = fc.integer({ min: 0, max: 3_599 }).map((second) => {
  const two = (number: number): string => String(number).padStart(2, '0');
  return `2026-03-01T08:${two(Math.floor(second / 60))}:${two(second % 60)}+01:00`;
});
const decimals = fc.integer({ min: 0, max: 999 }).map(String);

/** Any entry that hands can make. */
const someEntry = fc
  .record({
    step: fc.constantFrom(...STEPS),
    takenAt: times,
    absent: fc.option(fc.constantFrom(...ABSENT_REASONS), { freq: 5 }),
    side: fc.option(fc.constantFrom(...SIDES)),
    cuffSize: fc.option(fc.constantFrom(...CUFF_SIZES)),
    regular: fc.option(fc.boolean()),
    armAtHeartLevel: fc.option(fc.boolean()),
    armCircumference: fc.constantFrom('', '0', '31', '31.5'),
    sinceHotDrink: fc.option(fc.constantFrom(5, 30)),
    sinceColdDrink: fc.option(fc.constantFrom(5, 30)),
    confirmed: fc.boolean(),
    note: fc.constantFrom('', '  ', 'Restless'),
    texts: fc.array(fc.option(decimals), { minLength: 4, maxLength: 4 }),
    count: fc.integer({ min: 0, max: 1000 }),
    seconds: fc.constantFrom(15, 30, 60),
    code: fc.constantFrom(...CONSCIOUSNESS_CODES),
    pick: fc.nat(),
  })
  .map(({ step, texts, count, seconds, code, pick, absent, ...rest }) => {
    const way = step.ways[pick % step.ways.length];
    const site = way?.sites[pick % Math.max(1, way.sites.length)] ?? null;
    const typed = step.fields.flatMap(({ name }, place) => {
      const text = texts[place];
      return text === null || text === undefined ? [] : [[name, text] as const];
    });
    const change: Partial<Entry> = {
      ...rest,
      side: step.hasSide ? rest.side : null,
      method: way?.method ?? null,
      site,
      absent,
      ...(absent === null && step.kind === 'count' && { counted: { count, seconds } }),
      ...(absent === null && step.kind === 'code' && { code }),
      ...(absent === null && { numbers: Object.fromEntries(typed) }),
    };
    return [step.id, change] as [StepId, Partial<Entry>];
  });
const someForm = fc
  .tuple(
    fc.array(someEntry, { minLength: 1, maxLength: 12 }),
    fc.option(fc.constantFrom(...POSITIONS)),
  )
  .map(([entries, position]) => ({ ...formWith(...entries), position }));

describe('any set that the form makes', () => {
  it('is one that the gateway’s contract takes', () => {
    fc.assert(
      fc.property(someForm, (form) => {
        const built = buildSet(form, {});
        if (built === null) return;
        expect(checkSet(JSON.parse(JSON.stringify(built.set)))).toMatchObject({ ok: true });
        expect(built.entryIds).toHaveLength(built.set.readings.length);
      }),
    );
  });

  it('names units, methods and places that its signs take', () => {
    fc.assert(
      fc.property(someForm, (form) => {
        for (const reading of buildSet(form, {})?.set.readings ?? []) {
          const row = CATALOGUE[reading.vital];
          if (reading.unit !== undefined) expect(row.unitsTaken).toContain(reading.unit);
          if (reading.method !== undefined) expect(row.methodsTaken).toContain(reading.method);
          if (reading.site !== undefined) expect(row.sitesTaken).toContain(reading.site);
        }
      }),
    );
  });

  it('comes back from the outbox as the same readings', () => {
    fc.assert(
      fc.property(someForm, (form) => {
        const set = buildSet(form, {})?.set;
        if (set === undefined) return;
        const again = buildSet(reopenSet(set, SET_ID), {})?.set;
        expect(again).toEqual(set);
      }),
    );
  });
});

describe('when an entry is whole', () => {
  it.each<[StepId, Partial<Entry>, boolean]>([
    ['oximeter', { numbers: { saturation: '96' } }, false],
    ['oximeter', { numbers: { saturation: '96', 'oximeter-pulse': '74' } }, true],
    ['pressure-by-cuff', { numbers: { systolic: '120', diastolic: '80' } }, true],
    ['pressure-by-hand', { numbers: { systolic: '120' }, method: 'auscultation' }, false],
    ['pressure-by-hand', { numbers: { systolic: '120' }, method: 'palpation' }, true],
    ['pressure-by-hand', { numbers: { systolic: '120', diastolic: '80' } }, false],
    ['pulse', { counted: { count: 30, seconds: 30 } }, false],
    ['pulse', { absent: 'refused' }, true],
    ['oxygen', { numbers: { flow: '2' } }, true],
  ])('%s with %j: %s', (step, change, whole) => {
    const [entry] = formWith([step, change]).entries;
    expect(entry !== undefined && isComplete(entry)).toBe(whole);
  });
});

describe('the order', () => {
  it('is a help: it goes on after the step in hand, and comes back to what was left', () => {
    expect(nextStep(EMPTY, null)).toBe('breaths');
    expect(nextStep(EMPTY, 'oximeter')).toBe('pressure-by-hand');
    expect(nextStep(EMPTY, 'temperature')).toBe('breaths');
    expect(nextStep(EMPTY, 'weight')).toBe('breaths');
  });

  it('counts a skipped sign as done', () => {
    const usual = STEPS.filter((step) => step.usual);
    const skipped = usual.map(({ id }) => [id, { absent: 'not-done' }] as const);
    const form = formWith(...skipped.map(([id, change]): [StepId, Partial<Entry>] => [id, change]));
    expect(nextStep(form, 'breaths')).toBeNull();
  });
});

describe('the last choice', () => {
  const byHand = formWith([
    'pressure-by-hand',
    { method: 'palpation', site: 'upper-arm', side: 'left', cuffSize: 'adult' },
  ]).entries[0];

  it('is offered for the other pressure, with that step’s own way, and not assumed', () => {
    const { entry } = addEntry(EMPTY, 'pressure-by-cuff');
    const habits = byHand === undefined ? {} : noteChoices({}, byHand);
    expect(offerChoices(habits, entry)).toEqual({
      method: 'oscillometry',
      site: 'upper-arm',
      side: 'left',
      cuffSize: 'adult',
    });
    expect([entry.site, entry.side, entry.cuffSize]).toEqual([null, null, null]);
  });

  it('leaves alone what was said already, and is not offered when it changes nothing', () => {
    const { entry } = addEntry(EMPTY, 'pressure-by-cuff');
    const habits = byHand === undefined ? {} : noteChoices({}, byHand);
    const other = { ...entry, side: 'right', site: 'wrist', cuffSize: 'child' } as const;
    expect(offerChoices(habits, { ...other, cuffSize: null })).toMatchObject({
      side: 'right',
      site: 'wrist',
      cuffSize: 'adult',
    });
    expect(offerChoices(habits, other)).toBeNull();
  });

  it('is none for a step of another kind', () => {
    const habits = byHand === undefined ? {} : noteChoices({}, byHand);
    expect(offerChoices(habits, addEntry(EMPTY, 'oximeter').entry)).toBeNull();
  });
});

it('has every sign of the contract in a step', () => {
  const signs = STEPS.flatMap(({ id }) => [
    stepOf(id).vital,
    ...stepOf(id).fields.map((f) => f.vital),
  ]);
  expect(new Set(signs)).toEqual(new Set(Object.keys(CATALOGUE)));
});
