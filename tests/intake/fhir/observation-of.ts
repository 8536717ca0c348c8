import { MRN } from './read-one.js';

type Json = Readonly<Record<string, unknown>>;

export const LOINC = 'http://loinc.org';
export const MDC = 'urn:iso:std:iso:11073:10101';
export const SNOMED = 'http://snomed.info/sct';
export const UCUM = 'http://unitsofmeasure.org';

/** A CodeableConcept of codings, each system, code and perhaps display. */
export const concept = (...codings: readonly (readonly [string, string, string?])[]): Json => ({
  coding: codings.map(([system, code, display]) => ({
    system,
    code,
    ...(display !== undefined && { display }),
  })),
});

export const quantity = (value: number, code: string, more: Json = {}): Json => ({
  value,
  system: UCUM,
  code,
  ...more,
});

export const ABSENT = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';

/** An oximeter's saturation of somebody on ward Larkfield; `more` in place of its elements. */
export function saturation(more: Json = {}): Json {
  return {
    resourceType: 'Observation',
    status: 'final',
    code: concept([MDC, '150456', 'MDC_PULS_OXIM_SAT_O2'], [LOINC, '2708-6']),
    subject: { identifier: { system: MRN, value: 'LF-20555' } },
    effectiveDateTime: '2026-03-02T07:40:00+01:00',
    valueQuantity: quantity(95, '%'),
    device: { identifier: { system: 'urn:example:device', value: 'OX-12' } },
    ...more,
  };
}

/** A cuff's pressure, in components. */
export function pressure(systolic: number, diastolic: number, more: Json = {}): Json {
  const part = (mdc: string, loinc: string, value: number): Json => ({
    code: concept([MDC, mdc], [LOINC, loinc]),
    valueQuantity: quantity(value, 'mm[Hg]'),
  });
  return saturation({
    code: concept([LOINC, '85354-9'], [MDC, '150020']),
    valueQuantity: undefined,
    component: [part('150021', '8480-6', systolic), part('150022', '8462-4', diastolic)],
    ...more,
  });
}
