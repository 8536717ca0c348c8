/** What calculated values are called. Their unit is that of a blood pressure. */
import { loinc, type Coding } from './codes.js';
import type { DerivedKind } from './words.js';

/** System of the gateway's own codes of calculated values, by which they can be told from measured ones. */
export const DERIVED_SYSTEM = 'urn:vital-sign-gateway:derived';

interface DerivedRow {
  readonly display: string;
  readonly codings: readonly Coding[];
}

/**
 * LOINC 8478-0 stands for a mean however it was come by (HL7 CardX 2024 names it for a calculated one).
 * None is known for pulse pressure: HL7 Norway's no-domain vital signs (0.9.74) list none either, and
 * their SNOMED CT concept is of the national extension.
 */
export const DERIVED_CATALOGUE: Readonly<Record<DerivedKind, DerivedRow>> = {
  'pulse-pressure': {
    display: 'Pulse pressure, calculated',
    codings: [
      { system: DERIVED_SYSTEM, code: 'pulse-pressure', display: 'Pulse pressure, calculated' },
    ],
  },
  'mean-pressure': {
    display: 'Mean blood pressure, calculated',
    codings: [
      loinc('8478-0', 'Mean blood pressure'),
      { system: DERIVED_SYSTEM, code: 'mean-pressure', display: 'Mean blood pressure, calculated' },
    ],
  },
};
