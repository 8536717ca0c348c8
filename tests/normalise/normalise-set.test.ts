import fc from 'fast-check';
import { normaliseReading } from '../../src/normalise/normalise-reading.js';
import { normaliseSet } from '../../src/normalise/normalise-set.js';
import { CATALOGUE } from '../../src/vitals/catalogue.js';
import { EUI64_SYSTEM } from '../../src/vitals/device-identifier.js';
import type { IncomingReading, IncomingSet, Reading } from '../../src/vitals/shapes.js';
import { METHODS, SITES, VITALS } from '../../src/vitals/words.js';
import { sampleSet } from '../contract/sample-set.js';

const DEFAULTS = { takenAt: '2026-04-19T19:40:00Z' };

function one(incoming: IncomingReading): Reading {
  return normaliseReading(incoming, 0, DEFAULTS);
}

describe('a set', () => {
  const set = normaliseSet(sampleSet() as unknown as IncomingSet);
  const reading = (index: number): Reading => {
    const found = set.readings[index];
    if (found === undefined) throw new Error(`no reading ${index}`);
    return found;
  };

  it('keeps who, where and when', () => {
    expect(set).toMatchObject({
      encounter: { system: 'urn:example:visit', value: 'V-40017' },
      recorder: { system: 'urn:example:staff', value: 'N-207' },
      location: 'larkfield/4',
      takenAt: { epochMs: Date.UTC(2026, 3, 19, 19, 40), offsetMinutes: 120 },
    });
  });

  it('names a device in the one spelling under which it is kept', () => {
    const identifier = { system: EUI64_SYSTEM, value: '001ac5fffe204b07' };
    const incoming = {
      vital: 'body-weight',
      value: 70,
      unit: 'kg',
      device: { identifier },
    } as const;
    expect(one(incoming).device?.value).toBe('00-1A-C5-FF-FE-20-4B-07');
  });

  it('turns counts into rates and keeps what was counted', () => {
    expect(reading(0)).toMatchObject({
      unit: '/min',
      values: { value: { text: '16', number: 16 } },
      entered: { count: 8, seconds: 30 },
    });
    expect(reading(1).values).toEqual({ value: { text: '88', number: 88 } });
    expect(reading(1).context).toEqual({ regular: false });
  });

  it('leaves a value in its own unit as it was written', () => {
    expect(reading(2)).toMatchObject({
      values: { value: { text: '94.0', number: 94 } },
      entered: null,
      device: { system: 'urn:example:device', value: 'OX-3' },
    });
  });

  it('converts every part of a pressure and keeps what was typed', () => {
    // UCUM: 1 mm[Hg] = 0.133322 kPa; 16.4, 10.0 and 12.1 kPa by hand.
    expect(reading(3)).toMatchObject({
      unit: 'mm[Hg]',
      values: {
        systolic: { text: '123.0' },
        diastolic: { text: '75.0' },
        mean: { text: '90.8' },
      },
      entered: { systolic: '16.4', diastolic: '10.0', mean: '12.1', unit: 'kPa' },
      context: {
        cuffSize: 'large-adult',
        armCircumferenceCm: 37.5,
        armAtHeartLevel: true,
        inflatedTo: 180,
      },
    });
  });

  it('takes time and position from the set where the reading has none', () => {
    expect(reading(0)).toMatchObject({ takenAt: set.takenAt, position: 'semi-recumbent' });
    expect(reading(2).takenAt).toEqual({
      epochMs: Date.UTC(2026, 3, 19, 19, 42, 30, 250),
      offsetMinutes: 120,
    });
    expect(reading(3).position).toBe('supine');
  });

  it('keeps zero minutes since a drink apart from nothing told', () => {
    expect(reading(4).context).toEqual({
      confirmed: true,
      minutesSinceHotDrink: 40,
      minutesSinceColdDrink: 0,
    });
    expect(reading(5).context).toEqual({});
  });

  it('carries an absent reading and a code without a value', () => {
    expect(reading(5)).toMatchObject({
      absent: 'not-possible',
      values: {},
      unit: 'kg',
      faults: [],
    });
    expect(reading(6)).toMatchObject({ code: 'alert', values: {}, unit: null, faults: [] });
  });

  it('has one key however its UUID was written (RFC 9562 §4)', () => {
    const shouted = { ...sampleSet(), setId: '6F1D3C52-90A4-4C7E-8F0B-2A51C9D7E318' };
    expect(normaliseSet(shouted as unknown as IncomingSet).setId).toBe(set.setId);
  });
});

describe('times', () => {
  it.each([
    // RFC 3339 §5.8, its own examples.
    ['1985-04-12T23:20:50.52Z', Date.UTC(1985, 3, 12, 23, 20, 50, 520), 0],
    ['1996-12-19T16:39:57-08:00', Date.UTC(1996, 11, 20, 0, 39, 57), -480],
    ['1937-01-01T12:00:27.87+00:20', Date.UTC(1937, 0, 1, 11, 40, 27, 870), 20],
    ['2026-04-19T21:40:00.123456789+05:45', Date.UTC(2026, 3, 19, 15, 55, 0, 123), 345],
    ['2026-04-19T21:40:00-00:00', Date.UTC(2026, 3, 19, 21, 40), 0],
  ])('%s', (takenAt, epochMs, offsetMinutes) => {
    expect(one({ vital: 'consciousness', code: 'alert', takenAt }).takenAt).toStrictEqual({
      epochMs,
      offsetMinutes,
    });
  });

  it('may come resolved, for the correction of a reading that is kept', () => {
    const takenAt = { epochMs: 0, offsetMinutes: -60 };
    const incoming: IncomingReading = { vital: 'consciousness', code: 'pain' };
    const reading = normaliseReading(incoming, 3, { takenAt, position: 'prone' });
    expect(reading).toMatchObject({ index: 3, takenAt, position: 'prone' });
  });
});

describe('what makes a reading unusable', () => {
  it.each([undefined, '', 'C', '°C', 'degF', 'cel', '[DEGF]', 'constructor', 'mm[Hg]'])(
    'a temperature in %p',
    (unit) => {
      const reading = one({
        vital: 'body-temperature',
        value: '37.20',
        ...(unit !== undefined && { unit }),
      });
      expect(reading).toMatchObject({
        faults: ['unit-unknown'],
        values: {},
        sentUnit: unit ?? null,
        entered: { value: '37.20', unit: unit ?? '' },
      });
    },
  );

  it('a pressure without a unit, whatever parts it has', () => {
    const reading = one({ vital: 'blood-pressure', method: 'palpation', systolic: 112 });
    expect(reading).toMatchObject({
      faults: ['unit-unknown'],
      values: {},
      entered: { systolic: '112', unit: '' },
    });
  });

  it('every method and site that its sign does not take, and no other', () => {
    for (const vital of VITALS) {
      const { methodsTaken, sitesTaken } = CATALOGUE[vital];
      for (const method of METHODS) {
        const faults = methodsTaken.includes(method) ? [] : ['method-not-taken'];
        expect(one({ vital, method, absent: 'refused' }).faults).toEqual(faults);
      }
      for (const site of SITES) {
        const faults = sitesTaken.includes(site) ? [] : ['site-not-taken'];
        expect(one({ vital, site, absent: 'refused' }).faults).toEqual(faults);
      }
    }
  });

  it('all of it at once, and nothing of the value gets through', () => {
    const counted = one({
      vital: 'pulse-rate',
      method: 'thermometry',
      site: 'oral',
      count: 31,
      seconds: 30,
    });
    expect(counted).toMatchObject({
      faults: ['method-not-taken', 'site-not-taken'],
      values: {},
      entered: { count: 31, seconds: 30 },
    });
    const coded = one({ vital: 'consciousness', code: 'voice', site: 'ear' });
    expect(coded).toMatchObject({ faults: ['site-not-taken'], code: null });
  });
});

describe('what was entered', () => {
  it('is kept where a unit was converted, even if the digits came out the same', () => {
    // The one temperature at which both scales agree (NIST SP 811 B.8), and a zero length.
    expect(one({ vital: 'body-temperature', value: '-40.00', unit: '[degF]' }).entered).toEqual({
      value: '-40.00',
      unit: '[degF]',
    });
    expect(one({ vital: 'body-height', value: 0, unit: 'm' }).entered).toEqual({
      value: '0',
      unit: 'm',
    });
  });

  it('is not kept for an annotation, which is the same unit', () => {
    const reading = one({
      vital: 'pulse-rate',
      method: 'electrocardiography',
      value: 81,
      unit: '{beats}/min',
    });
    expect(reading).toMatchObject({ entered: null, unit: '/min', sentUnit: '{beats}/min' });
  });

  it('is kept where float noise was rounded away', () => {
    const reading = one({ vital: 'body-weight', value: 70.10000000000001, unit: 'kg' });
    expect(reading).toMatchObject({
      values: { value: { text: '70.1' } },
      entered: { value: '70.10000000000001', unit: 'kg' },
    });
  });
});

it('a count of n in T seconds is n × 60 / T a minute, whole, for every window', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 0, max: 1000 }),
      fc.constantFrom(15, 30, 60),
      (count, seconds) => {
        const { values } = one({ vital: 'respiratory-rate', method: 'counted', count, seconds });
        expect(values.value?.number).toBe((count * 60) / seconds);
        expect(values.value?.text).toMatch(/^[0-9]+$/);
      },
    ),
  );
});
