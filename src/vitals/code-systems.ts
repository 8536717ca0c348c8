import { LOINC_SYSTEM, MDC_SYSTEM, SNOMED_SYSTEM } from './codes.js';

/** Code systems that the gateway reads, by their names in HL7 v2 (table 0396). */
export type KnownSystem = 'MDC' | 'LN' | 'SCT' | 'UCUM' | 'HL70163';

/** HL7 table 0396, FHIR R4 systems, and their object identifiers (HL7 terminology, THO). */
const SYSTEMS: ReadonlyMap<string, KnownSystem> = new Map<string, KnownSystem>([
  ['MDC', 'MDC'],
  [MDC_SYSTEM, 'MDC'],
  ['urn:oid:2.16.840.1.113883.6.24', 'MDC'],
  ['LN', 'LN'],
  ['LOINC', 'LN'],
  [LOINC_SYSTEM, 'LN'],
  ['https://loinc.org', 'LN'],
  ['urn:oid:2.16.840.1.113883.6.1', 'LN'],
  ['SCT', 'SCT'],
  [SNOMED_SYSTEM, 'SCT'],
  ['urn:oid:2.16.840.1.113883.6.96', 'SCT'],
  ['UCUM', 'UCUM'],
  ['http://unitsofmeasure.org', 'UCUM'],
  ['urn:oid:2.16.840.1.113883.6.8', 'UCUM'],
  ['HL70163', 'HL70163'],
]);

/** Null: no system was named, or one that the gateway does not read. */
export function readCodeSystem(name: string | undefined): KnownSystem | null {
  return SYSTEMS.get(name ?? '') ?? null;
}

/** An MDC code: a number of 32 bits in plain decimal digits; null: the text is none. */
export function readMdcNumber(text: string | undefined): number | null {
  return text !== undefined && /^\d{1,10}$/.test(text) ? Number(text) : null;
}
