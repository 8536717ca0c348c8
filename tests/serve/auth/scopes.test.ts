import fc from 'fast-check';
import {
  commonScopes,
  hasNarrowedScope,
  hasScope,
  isAllowed,
  isKnownScope,
  restrictionsOn,
} from '../../../src/serve/auth/scopes.js';
import type { Scope } from '../../../src/serve/auth/scopes.js';

const letters = fc.subarray(['c', 'r', 'u', 'd', 's'], { minLength: 1 }).map((l) => l.join(''));
const CATEGORY = 'http://terminology.hl7.org/CodeSystem/observation-category|vital-signs';
const NARROW = `system/Observation.rs?category=${CATEGORY}`;
const LOINC = 'http://loinc.org';

// Syntax and meaning: SMART App Launch 2.2, "Scopes for requesting FHIR Resources".
describe('scopes', () => {
  it.each([
    [['sets.write'], 'sets.write', true],
    [['sets.write'], 'sets.check', false],
    [['review.write'], 'review.read', false],
    [['system/Observation.rs'], 'system/Observation.r', true],
    [['system/Observation.rs'], 'system/Observation.s', true],
    [['system/Observation.rs'], 'system/Observation.c', false],
    [['system/Observation.rs'], 'system/Patient.r', false],
    [['system/*.rs'], 'system/Patient.r', true],
    [['system/*.cruds'], 'system/AuditEvent.r', false],
    [['system/*.cruds'], 'system/Subscription.s', false],
    [['system/AuditEvent.rs'], 'system/AuditEvent.s', true],
    [['system/Observation.r', 'system/Observation.s'], 'system/Observation.rs', true],
    [['system/Observation.rs'], 'system/*.r', false],
    [['system/*.rs'], 'system/*.r', true],
    [['admin'], 'system/Patient.r', false],
    [['system/*.cruds'], 'admin', false],
    [['system/Medication.rs'], 'system/Medication.r', false],
  ] as const)('granted %j, needed %s: %s', (granted, needed, allowed) => {
    expect(hasScope(granted, needed)).toBe(allowed);
  });

  it.each([
    'patient/Observation.rs',
    'user/*.rs',
    'system/Observation.sr',
    'system/Observation.',
    'system/Observation.readwrite',
    'system/Medication.r',
    'system/*.x',
    'sets',
    'SETS.WRITE',
    'toString',
    '',
    'system/Observation.rs?',
    'system/Observation.rs?category',
    'system/Observation.rs?category=',
    'system/Observation.rs?=vital-signs',
    'system/Observation.rs?category=a,,b',
    'system/Observation.rs?code=a|b|c',
    'system/Observation.rs?category=%zz',
    'system/Observation.rs?category=vital-signs&',
    'system/Observation.rs?category=vital signs',
    'system/Observation.rs?category=v\u00eftal',
    `system/Observation.rs?code=${'8'.repeat(1000)}`,
    // Parameters whose meaning is not the resource's alone, modifiers and chains: "Experimental features".
    'system/Observation.rs?date=ge2026',
    'system/Observation.rs?code:in=http://larkfield.example/set',
    'system/Observation.rs?patient.birthdate=1990',
    'system/Observation.rs?_filter=code',
    // Only what is read can be narrowed, only Observations are, and version 1 never is.
    'system/Observation.crs?category=vital-signs',
    'system/Observation.read?category=vital-signs',
    'system/Patient.rs?status=final',
    'system/*.rs?category=vital-signs',
  ])('does not know %j', (scope) => {
    expect(isKnownScope(scope)).toBe(false);
  });

  it('allows exactly the letters that were granted', () => {
    fc.assert(
      fc.property(letters, letters, (granted, needed) => {
        const scope: Scope = `system/Observation.${needed}`;
        const contained = Array.from(needed).every((letter) => granted.includes(letter));
        expect(hasScope([`system/Observation.${granted}`], scope)).toBe(contained);
        expect(hasScope([`system/*.${granted}`], scope)).toBe(contained);
        expect(isKnownScope(scope)).toBe(true);
      }),
    );
  });
});

// SMART App Launch 2.2: "servers SHOULD process v1 scopes with the following semantics in v2".
describe('scopes of version 1', () => {
  it.each([
    ['read', 'rs'],
    ['write', 'cud'],
    ['*', 'cruds'],
  ])('.%s means .%s', (first, second) => {
    for (const type of ['Observation', '*']) {
      const granted = `system/${type}.${first}`;
      expect(isKnownScope(granted)).toBe(true);
      for (const letter of 'cruds') {
        const needed: Scope = `system/Observation.${letter}`;
        expect([letter, hasScope([granted], needed)]).toEqual([letter, second.includes(letter)]);
      }
    }
    expect(hasScope([`system/*.${first}`], `system/AuditEvent.${second}`)).toBe(false);
    expect(isAllowed([`system/Patient.${second}`], `system/Patient.${first}`)).toBe(true);
    expect(isAllowed([`system/Patient.${first}`], `system/Patient.${second}`)).toBe(true);
  });
});

// SMART App Launch 2.2: "Finer-grained resource constraints using search parameters".
describe('narrowed scopes', () => {
  it('count only for who shows no more than they let see', () => {
    expect(hasScope([NARROW], 'system/Observation.r')).toBe(false);
    expect(hasNarrowedScope([NARROW], 'system/Observation.r')).toBe(true);
    expect(hasNarrowedScope([NARROW], 'system/Observation.rs')).toBe(true);
    expect(hasNarrowedScope([NARROW], 'system/Observation.c')).toBe(false);
    expect(hasNarrowedScope([NARROW], 'system/Patient.r')).toBe(false);
    expect(hasNarrowedScope([NARROW, 'system/Observation.rs'], 'system/Observation.r')).toBe(true);
    expect(hasScope([NARROW, 'system/Observation.rs'], 'system/Observation.r')).toBe(true);
    expect(hasNarrowedScope(['sets.write'], 'sets.write')).toBe(true);
    expect(hasNarrowedScope(['sets.write'], 'admin')).toBe(false);
  });

  it('are a union: what one of them lets see is seen', () => {
    const granted = [NARROW, 'system/Observation.r?status=final&code=a,b', 'system/Patient.rs'];
    const asked = restrictionsOn(granted, 'Observation', 'r').map((list) =>
      list.map(({ name, values }) => [name, values]),
    );
    expect(asked).toEqual([
      [['category', [CATEGORY]]],
      [
        ['status', ['final']],
        ['code', ['a', 'b']],
      ],
    ]);
    expect(restrictionsOn(granted, 'Observation', 's')).toHaveLength(1);
    expect(restrictionsOn(granted, 'Observation', 'c')).toEqual([]);
    expect(restrictionsOn(['system/*.rs'], 'Observation', 's')).toEqual([[]]);
  });

  it('may be written percent-encoded', () => {
    const encoded = `system/Observation.rs?category=${encodeURIComponent(CATEGORY)}`;
    expect(restrictionsOn([encoded], 'Observation', 'r')[0]?.[0]?.values).toEqual([CATEGORY]);
    expect(isAllowed([NARROW], encoded)).toBe(true);
  });

  it.each([
    [['system/Observation.rs'], NARROW, true],
    [['system/*.rs'], NARROW, true],
    [[NARROW], NARROW, true],
    [[NARROW], 'system/Observation.rs', false],
    [[NARROW], 'system/*.rs', false],
    [[NARROW], `${NARROW}&status=final`, true],
    [[NARROW], 'system/Observation.rs?status=final', false],
    [[NARROW], 'system/Observation.rs?category=vital-signs', false],
    [['system/Observation.rs?category=vital-signs'], NARROW, true],
    [['system/Observation.rs?code=a,b'], 'system/Observation.rs?code=b', true],
    [['system/Observation.rs?code=a,b'], 'system/Observation.rs?code=b,c', false],
    [['system/Observation.rs?code=a'], 'system/Observation.rs?combo-code=a', false],
    [[`system/Observation.rs?code=${LOINC}|`], `system/Observation.rs?code=${LOINC}|8867-4`, true],
    [[`system/Observation.rs?code=${LOINC}|8867-4`], `system/Observation.rs?code=${LOINC}|`, false],
    [[`system/Observation.r?code=a`, 'system/Observation.s'], 'system/Observation.rs', false],
    [[`system/Observation.r?code=a`, 'system/Observation.s'], 'system/Observation.s', true],
    [['sets.write'], 'sets.write', true],
    [['sets.write'], 'admin', false],
    [['nonsense'], 'nonsense', false],
  ])('held %j, asked for %s: %s', (held, asked, allowed) => {
    expect(isAllowed(held, asked)).toBe(allowed);
  });
});

describe('what two lists of scopes have in common', () => {
  it.each([
    [['system/*.rs', 'openid'], ['system/Observation.rs'], ['system/Observation.rs']],
    [['system/Observation.cruds'], ['system/*.rs'], ['system/Observation.rs']],
    [['system/*.read'], ['system/*.rs'], ['system/*.read']],
    [['system/Observation.rs'], [NARROW], [NARROW]],
    [['system/*.cruds'], ['system/AuditEvent.rs'], []],
    [['system/AuditEvent.rs'], ['system/*.cruds'], []],
    [['system/Patient.rs'], ['system/Observation.rs'], []],
    [['system/Patient.c'], ['system/Patient.rs'], []],
    [['sets.write', 'admin'], ['sets.write', 'sets.check'], ['sets.write']],
    [
      ['system/Observation.rs?status=final'],
      [NARROW],
      [`system/Observation.rs?status=final&category=${CATEGORY}`],
    ],
    [
      ['system/*.rs'],
      ['system/Observation.rs', 'system/Patient.r'],
      ['system/Observation.rs', 'system/Patient.r'],
    ],
  ])('%j and %j: %j', (one, other, common) => {
    expect(commonScopes(one, other)).toEqual(common);
  });

  it('allows nothing that one of them does not', () => {
    const scope = fc
      .tuple(
        fc.constantFrom('Observation', 'Patient', 'AuditEvent', '*'),
        letters,
        fc.constantFrom('', '?status=final', '?status=final,amended', '?code=a'),
      )
      .map(([type, some, query]) => `system/${type}.${some}${query}`)
      .filter(isKnownScope);
    const list = fc.array(scope, { maxLength: 3 });
    fc.assert(
      fc.property(list, list, scope, (one, other, asked) => {
        const both = isAllowed(one, asked) && isAllowed(other, asked);
        const common = commonScopes(one, other);
        if (isAllowed(common, asked))
          expect([one, other, asked, both]).toEqual([one, other, asked, true]);
        // One letter that both allow is allowed by what they have in common.
        const [, letter] = /\.([cruds])(?:$|\?)/.exec(asked) ?? [];
        if (both && letter !== undefined) expect(isAllowed(common, asked)).toBe(true);
      }),
      { numRuns: 1000 },
    );
  });
});
