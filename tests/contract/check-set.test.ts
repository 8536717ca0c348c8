import fc from 'fast-check';
import { checkSet } from '../../src/contract/compile.js';
import { valueAt } from '../../src/contract/pointers.js';
import { CATALOGUE } from '../../src/vitals/catalogue.js';
import type { Fault } from '../../src/vitals/shapes.js';
import { VITALS } from '../../src/vitals/words.js';
import { sampleSet, setWith } from './sample-set.js';

function faultsOf(value: unknown): readonly Fault[] {
  const result = checkSet(value);
  return result.ok ? [] : result.faults;
}

function theFault(value: unknown): Fault {
  const [fault, ...others] = faultsOf(value);
  if (fault === undefined || others.length > 0) {
    throw new Error(`one fault was expected: ${JSON.stringify(faultsOf(value))}`);
  }
  return fault;
}

function without(member: string, from: Record<string, unknown>): Record<string, unknown> {
  return Object.fromEntries(Object.entries(from).filter(([name]) => name !== member));
}

const OXIMETRY = { vital: 'oxygen-saturation', method: 'pulse-oximetry', value: 95, unit: '%' };

describe('a set that is right', () => {
  it('comes back as it was', () => {
    const set = sampleSet();
    expect(checkSet(set)).toEqual({ ok: true, set });
  });

  it.each(['patient', 'setId', 'takenAt', 'readings'])('needs its %s', (member) => {
    expect(theFault(without(member, sampleSet()))).toEqual({
      pointer: '',
      message: `"${member}" is missing`,
    });
  });

  it.each(['encounter', 'recorder', 'location', 'position'])('can do without %s', (member) => {
    expect(faultsOf(without(member, sampleSet()))).toEqual([]);
  });

  it('takes 64 readings, and says plainly that 65 are too many', () => {
    expect(faultsOf({ ...sampleSet(), readings: Array(64).fill(OXIMETRY) })).toEqual([]);
    expect(theFault({ ...sampleSet(), readings: Array(65).fill(OXIMETRY) })).toMatchObject({
      pointer: '/readings',
      message: expect.stringContaining('at most 64 readings') as string,
    });
    expect(theFault({ ...sampleSet(), readings: [] }).message).toContain('at least one reading');
  });
});

describe('members that nobody knows', () => {
  it('are refused by name, where they stand', () => {
    const set = { ...sampleSet(), 'ward/bed~no': 4, patient: { ...sampleSet().patient, sex: 'f' } };
    expect(faultsOf(set)).toEqual([
      {
        pointer: '/ward~1bed~0no',
        message: '"ward/bed~no" is not a member of the set; unknown members are refused',
      },
      {
        pointer: '/patient/sex',
        message: '"sex" is not a member of the patient; unknown members are refused',
      },
    ]);
  });

  it.each(['systolc', '__proto__', 'constructor', 'toString'])('%s on a reading', (name) => {
    const reading = JSON.parse(JSON.stringify(OXIMETRY).replace('{', `{"${name}":1,`)) as unknown;
    expect(theFault(setWith(reading))).toEqual({
      pointer: `/readings/0/${name}`,
      message: `"${name}" is not a member of the reading; unknown members are refused`,
    });
  });
});

describe('numbers', () => {
  it.each([0, -0, -12.5, 999_999.5, 36.6, '0', '36.50', '-0.5', '999999.999999'])(
    'takes %p',
    (value) => {
      expect(faultsOf(setWith({ ...OXIMETRY, value }))).toEqual([]);
    },
  );

  it.each([
    '',
    'NaN',
    'Infinity',
    '1e3',
    '36,5',
    '+5',
    '.5',
    '5.',
    '007',
    ' 5',
    '1.1234567',
    true,
    null,
    [5],
  ])('refuses %p', (value) => {
    expect(theFault(setWith({ ...OXIMETRY, value }))).toEqual({
      pointer: '/readings/0/value',
      message:
        'must be a number, or a decimal text such as "36.50" (at most six decimals, no exponent)',
    });
  });

  it.each([1e308, -1e308, 1_000_000])('refuses %p as too large', (value) => {
    expect(theFault(setWith({ ...OXIMETRY, value })).message).toBe(
      'must be under a million either way',
    );
  });

  it('refuses what JSON can write and no number can hold', () => {
    const reading: unknown = JSON.parse('{"vital":"body-weight","value":1e400,"unit":"kg"}');
    expect(theFault(setWith(reading)).pointer).toBe('/readings/0/value');
  });

  it.each([
    [{ count: 8.5 }, '/readings/0/count', 'must be a whole number'],
    [{ count: -1 }, '/readings/0/count', 'must be from 0 to 1000'],
    [{ count: '8' }, '/readings/0/count', 'must be a whole number'],
    [{ seconds: 20 }, '/readings/0/seconds', 'must be one of 15, 30, 60'],
    [
      { armCircumferenceCm: 0 },
      '/readings/0/armCircumferenceCm',
      'must be more than 0 and at most 200',
    ],
    [{ inflatedTo: 401 }, '/readings/0/inflatedTo', 'must be from 0 to 400'],
    [{ regular: 'yes' }, '/readings/0/regular', 'must be true or false'],
  ])('%p', (change, pointer, message) => {
    const reading = { vital: 'pulse-rate', method: 'palpation', count: 41, seconds: 30, ...change };
    expect(theFault(setWith(reading))).toEqual({ pointer, message });
  });
});

describe('times and dates', () => {
  it.each([
    // RFC 3339 §5.8, and a leap day of a year that has one.
    '1985-04-12T23:20:50.52Z',
    '1996-12-19T16:39:57-08:00',
    '2028-02-29T00:00:00+14:00',
    '1899-12-31T23:59:59Z',
  ])('takes %s', (takenAt) => {
    expect(faultsOf({ ...sampleSet(), takenAt })).toEqual([]);
  });

  it.each([
    '2026-02-30T08:00:00Z',
    '2025-02-29T08:00:00+01:00',
    '2026-13-01T08:00:00Z',
    '2026-00-10T08:00:00Z',
    '2026-04-31T08:00:00Z',
  ])('names the day of %s as none', (takenAt) => {
    expect(theFault({ ...sampleSet(), takenAt })).toEqual({
      pointer: '/takenAt',
      message: `names a day that the calendar does not have: "${takenAt.slice(0, 10)}"`,
    });
  });

  it.each([
    '2026-04-19T21:40:00',
    '2026-04-19 21:40:00+02:00',
    '2026-04-19T21:40:00 02:00',
    '2026-04-19T21:40Z',
    '2026-04-19T24:00:00Z',
    '2026-04-19t21:40:00z',
    '2026-04-19T21:40:00+0200',
    '2026-04-19T21:40:00+15:00',
    // A leap second that was (RFC 3339 §5.8): a moment that our clocks cannot hold.
    '1990-12-31T23:59:60Z',
    '19.04.2026 21:40',
    1_776_627_600,
  ])('refuses %p', (takenAt) => {
    expect(theFault({ ...sampleSet(), takenAt }).message).toContain(
      'must be a time with its offset',
    );
    const reading = { ...OXIMETRY, takenAt };
    expect(theFault(setWith(reading)).pointer).toBe('/readings/0/takenAt');
  });

  it.each([
    ['1944-02-30', 'names a day that the calendar does not have: "1944-02-30"'],
    ['1944', 'must be a date such as 1958-11-02'],
    ['29.02.1944', 'must be a date such as 1958-11-02'],
  ])('birth date %s', (birthDate, message) => {
    const patient = { ...sampleSet().patient, birthDate };
    expect(theFault({ ...sampleSet(), patient })).toEqual({
      pointer: '/patient/birthDate',
      message,
    });
  });
});

describe('texts', () => {
  const withText = (text: unknown): unknown[] => [
    { ...sampleSet(), location: text },
    setWith({ ...OXIMETRY, note: text }),
    { ...sampleSet(), patient: { identifier: { system: 'urn:example:mrn', value: text } } },
  ];

  it.each(['', '   ', 'a\u0000b', '\u001b[2J', '\ud800', 'x\udc00', '\uffff', 7, null])(
    'refuses %j wherever a text stands',
    (text) => {
      for (const set of withText(text)) expect(faultsOf(set)).toHaveLength(1);
    },
  );

  it.each(['Ångström', '山田', '👩‍⚕️', 'O’Neill "Nell"', '<b>'])('takes %s', (text) => {
    for (const set of withText(text)) expect(faultsOf(set)).toEqual([]);
  });

  it('measures the length in characters', () => {
    expect(faultsOf(setWith({ ...OXIMETRY, note: '💊'.repeat(500) }))).toEqual([]);
    expect(theFault(setWith({ ...OXIMETRY, note: 'x'.repeat(501) })).message).toBe(
      'must not be longer than 500 characters',
    );
  });

  it('refuses an identifier that only a space tells from another', () => {
    const patient = { identifier: { system: 'urn:example:mrn', value: 'LF-30112 ' } };
    expect(theFault({ ...sampleSet(), patient }).message).toContain('without space around it');
  });

  it.each(['mrn', 'urn:example:a b', 'urn:example:a|b', ''])(
    'refuses %p as a namespace',
    (system) => {
      const encounter = { identifier: { system, value: 'V-1' } };
      expect(theFault({ ...sampleSet(), encounter })).toMatchObject({
        pointer: '/encounter/identifier/system',
        message: expect.stringContaining('must be an absolute URI') as string,
      });
    },
  );

  it('lets any short unit pass: it costs its reading, not the set', () => {
    for (const unit of ['furlong', '', 'mmHg']) {
      expect(faultsOf(setWith({ ...OXIMETRY, unit }))).toEqual([]);
    }
    expect(faultsOf(setWith(without('unit', OXIMETRY)))).toEqual([]);
  });
});

describe('the form of a value', () => {
  const FORMS: Readonly<Record<string, Record<string, unknown>>> = {
    value: { value: 12, unit: '/min' },
    count: { count: 20, seconds: 60 },
    pressure: { systolic: 118, diastolic: 77, unit: 'mm[Hg]' },
    code: { code: 'alert' },
    absent: { absent: 'refused' },
  };
  const TAKEN = {
    number: ['value', 'absent'],
    'number-or-count': ['value', 'count', 'absent'],
    pressure: ['pressure', 'absent'],
    code: ['code', 'absent'],
  } as const;
  const base = (vital: string): Record<string, unknown> =>
    vital === 'pulse-rate' || vital === 'blood-pressure'
      ? { vital, method: 'auscultation' }
      : { vital };

  it.each(VITALS)('of %s is one that the catalogue gives it', (vital) => {
    for (const [name, form] of Object.entries(FORMS)) {
      const taken = TAKEN[CATALOGUE[vital].form].some((word) => word === name);
      const faults = faultsOf(setWith({ ...base(vital), ...form }));
      expect({ name, faults: faults.length }).toEqual({ name, faults: taken ? 0 : 1 });
    }
  });

  it.each(VITALS)('of %s is exactly one, in one sentence', (vital) => {
    for (const [first, second] of [
      ['value', 'count'],
      ['value', 'absent'],
      ['count', 'absent'],
      ['pressure', 'absent'],
      ['code', 'absent'],
      ['pressure', 'code'],
    ] as const) {
      const reading = { ...base(vital), ...FORMS[first], ...FORMS[second] };
      const { pointer, message } = theFault(setWith(reading));
      expect(pointer).toMatch(/^\/readings\/0/);
      expect(message).toContain(`a reading of ${vital} takes exactly one form of value`);
    }
    expect(theFault(setWith(base(vital))).message).toContain('none of them is there');
  });

  it('points at the one member that does not belong', () => {
    const reading = { ...OXIMETRY, systolic: 120 };
    expect(theFault(setWith(reading))).toEqual({
      pointer: '/readings/0/systolic',
      message:
        'a reading of oxygen-saturation takes exactly one form of value: "value" with "unit"; ' +
        '"absent"; here stand "value", "unit", "systolic"',
    });
  });

  it('takes a palpated pressure without its diastolic', () => {
    const reading = { vital: 'blood-pressure', method: 'palpation', systolic: 104, unit: 'mm[Hg]' };
    expect(faultsOf(setWith(reading))).toEqual([]);
  });

  it.each(['count', 'seconds'])('needs both halves of a count: %s alone', (half) => {
    const reading = { vital: 'respiratory-rate', [half]: 30 };
    const messages = faultsOf(setWith(reading)).map(({ message }) => message);
    expect(messages).toHaveLength(1);
    expect(messages[0]).toContain(
      half === 'count' ? '"count" needs "seconds"' : 'exactly one form',
    );
  });

  it.each(['pulse-rate', 'blood-pressure'])(
    'of %s needs a method, unless it is absent',
    (vital) => {
      const form = vital === 'pulse-rate' ? FORMS.value : FORMS.pressure;
      expect(theFault(setWith({ vital, ...form }))).toEqual({
        pointer: '/readings/0',
        message: `a reading of ${vital} needs its "method": it is checked against others by it`,
      });
      expect(faultsOf(setWith({ vital, absent: 'not-done' }))).toEqual([]);
    },
  );

  it('is not judged for a sign that nobody knows', () => {
    expect(theFault(setWith({ vital: 'constructor', value: 1, unit: '%' }))).toMatchObject({
      pointer: '/readings/0/vital',
      message: expect.stringContaining('must be one of respiratory-rate, ') as string,
    });
    const messages = faultsOf(
      setWith({ vital: 'constructor', absent: 'refused', code: 'pain' }),
    ).map(({ message }) => message);
    expect(messages).toContain('an absent reading carries no value; here stand "code", "absent"');
  });
});

describe('the list of faults', () => {
  it('names each of many, once', () => {
    const set = sampleSet();
    set.position = 'upside-down';
    set.readings[0] = { ...set.readings[0], count: 8.5, side: 'middle' };
    set.readings[6] = { vital: 'consciousness', code: 'sleepy', colour: 'grey' };
    expect(
      faultsOf(set)
        .map(({ pointer }) => pointer)
        .sort(),
    ).toEqual([
      '/position',
      '/readings/0/count',
      '/readings/0/side',
      '/readings/6/code',
      '/readings/6/colour',
    ]);
  });

  it('is bounded, whatever a body holds', () => {
    const many = Object.fromEntries(Array.from({ length: 5_000 }, (_, i) => [`m${i}`, i]));
    expect(faultsOf({ ...many, readings: Array(10_000).fill(many) })).toHaveLength(100);
  });

  it.each([null, [], 'set', 7, true, undefined])(
    'of %p says that an object was expected',
    (value) => {
      expect(theFault(value)).toEqual({ pointer: '', message: 'must be an object' });
    },
  );
});

/** A place in the sample set, and what to put there. */
const mutation = fc.record({
  path: fc.array(
    fc.oneof(fc.nat(6), fc.constantFrom('readings', 'patient', 'identifier', 'value')),
    {
      maxLength: 4,
    },
  ),
  member: fc.oneof(
    fc.string(),
    fc.constantFrom('value', 'unit', 'absent', 'vital', 'count', 'method'),
  ),
  junk: fc.oneof(
    fc.jsonValue(),
    fc.dictionary(fc.constantFrom('vital', 'value', 'system', 'absent', 'x/y'), fc.jsonValue()),
  ),
});

it('never throws, and every pointer leads to a place in the body', () => {
  fc.assert(
    fc.property(mutation, ({ path, member, junk }) => {
      const set = sampleSet();
      const target = valueAt(set, ['', ...path].join('/'));
      if (Array.isArray(target)) target.push(junk);
      else if (typeof target === 'object' && target !== null) {
        Object.defineProperty(target, member, {
          value: junk,
          enumerable: true,
          configurable: true,
          writable: true,
        });
      }
      const faults = faultsOf(set);
      for (const { pointer, message } of faults) {
        expect(pointer === '' || valueAt(set, pointer) !== undefined).toBe(true);
        expect(message).not.toMatch(/undefined|\[object/);
      }
      expect(new Set(faults.map((fault) => JSON.stringify(fault))).size).toBe(faults.length);
    }),
    { numRuns: 2_000 },
  );
});

it('never throws for anything at all', () => {
  fc.assert(
    fc.property(fc.anything(), (value) => {
      expect(checkSet(value).ok).toBe(false);
    }),
  );
});
