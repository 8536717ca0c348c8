import fc from 'fast-check';
import { hasScope, isKnownScope } from '../../../src/serve/auth/scopes.js';
import type { Scope } from '../../../src/serve/auth/scopes.js';

const letters = fc.subarray(['c', 'r', 'u', 'd', 's'], { minLength: 1 }).map((l) => l.join(''));

// Syntax and meaning: SMART App Launch 2, "Scopes for requesting FHIR Resources".
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
  ] as const)('granted %j, needed %s: %s', (granted, needed, allowed) => {
    expect(hasScope(granted, needed)).toBe(allowed);
  });

  it.each([
    'patient/Observation.rs',
    'user/*.rs',
    'system/Observation.sr',
    'system/Observation.',
    'system/Observation.read',
    'system/Medication.r',
    'system/*.x',
    'sets',
    'SETS.WRITE',
    '',
    'system/Observation.rs?category=vital-signs',
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
