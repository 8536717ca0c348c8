/** One sample as an Observation of FHIR R4, with the MDC code that devices know and the LOINC code of the profile. */
import type { CodeableConcept, Observation, Quantity, Reference } from 'fhir/r4.js';
import { renderMoment } from '../../serve/fhir/render-moment.js';
import { LOINC_SYSTEM, MDC_SYSTEM, SNOMED_SYSTEM } from '../../vitals/codes.js';
import type { Identifier, IncomingReading, Moment } from '../../vitals/shapes.js';
import type { Sample } from '../devices/sample.js';
import { codeOf, numbersOf, siteOf, unitOf } from './codes.js';
import type { Coded } from './codes.js';

const UCUM_SYSTEM = 'http://unitsofmeasure.org';
const TERMINOLOGY = 'http://terminology.hl7.org/CodeSystem';
/** HL7 Personal Health Device guide 2.0.0. */
const PHD = 'http://hl7.org/fhir/uv/phd';
/** What a device says of its measurement has two addresses: that guide's profiles fix another than it is published at. */
const MEASUREMENT_STATUS = {
  personal: 'http://hl7.org/fhir/uv/pocd/CodeSystem/measurement-status',
  published: `${TERMINOLOGY}/measurement-status`,
} as const;

/** Whose it is, what measured it, and who held that. */
export interface Surroundings {
  readonly subject: string;
  readonly device: string;
  readonly visit: Identifier | undefined;
  readonly operator: Identifier | undefined;
  /** Under the profiles of personal devices. */
  readonly isPersonal: boolean;
}

export function writeObservation(
  { reading, signal }: Sample,
  takenAt: Moment,
  around: Surroundings,
): Observation {
  const { visit, operator, isPersonal } = around;
  const site = siteOf(reading);
  return {
    resourceType: 'Observation',
    ...(isPersonal && { meta: { profile: [profileOf(reading)] } }),
    status: 'final',
    category: categories(isPersonal),
    code: codeConcept(codeOf(reading)),
    subject: { reference: around.subject },
    ...(visit && { encounter: byIdentifier('Encounter', visit) }),
    effectiveDateTime: renderMoment(takenAt),
    ...(operator && { performer: [byIdentifier('Practitioner', operator)] }),
    ...valueOf(reading, signal === 'lost'),
    ...(signal === 'questionable' && {
      interpretation: [
        coded(MEASUREMENT_STATUS[isPersonal ? 'personal' : 'published'], 'questionable'),
      ],
    }),
    ...(site && { bodySite: coded(SNOMED_SYSTEM, site.snomed, site.words) }),
    device: { reference: around.device, type: isPersonal ? 'Device' : 'DeviceMetric' },
  };
}

function profileOf({ vital }: IncomingReading): string {
  const name =
    vital === 'blood-pressure' ? 'PhdCompoundNumericObservation' : 'PhdNumericObservation';
  return `${PHD}/StructureDefinition/${name}`;
}

function categories(isPersonal: boolean): CodeableConcept[] {
  const vitalSigns = coded(`${TERMINOLOGY}/observation-category`, 'vital-signs');
  const personal = coded(`${PHD}/CodeSystem/PhdObservationCategories`, 'phd');
  return isPersonal ? [personal, vitalSigns] : [vitalSigns];
}

function coded(system: string, code: string, text?: string): CodeableConcept {
  return { coding: [{ system, code }], ...(text !== undefined && { text }) };
}

function codeConcept({ mdc, name, loinc }: Coded): CodeableConcept {
  return {
    coding: [
      { system: MDC_SYSTEM, code: String(mdc), display: name },
      ...loinc.map((code) => ({ system: LOINC_SYSTEM, code })),
    ],
    text: name,
  };
}

function byIdentifier(type: string, identifier: Identifier): Reference {
  return { type, identifier: { ...identifier } };
}

type Value = Pick<Observation, 'valueQuantity' | 'dataAbsentReason' | 'component'>;

/** A number, or the parts of a pressure, of which the profile wants each also where it has no value. */
function valueOf(reading: IncomingReading, isLost: boolean): Value {
  const numberOrReason = (text: string): Omit<Value, 'component'> =>
    isLost
      ? { dataAbsentReason: coded(`${TERMINOLOGY}/data-absent-reason`, 'error') }
      : { valueQuantity: quantity(reading, text) };
  const numbers = numbersOf(reading);
  const [first] = numbers;
  if (first?.part === 'value') return numberOrReason(first.text);
  return {
    component: numbers.map(({ part, text }) => ({
      code: codeConcept(codeOf(reading, part)),
      ...numberOrReason(text),
    })),
  };
}

function quantity(reading: IncomingReading, text: string): Quantity {
  const { words, ucum } = unitOf(reading);
  return { value: asWritten(text), unit: words, system: UCUM_SYSTEM, code: ucum };
}

/** Marks a number whose digits must stay as they are: 36.90 as a number of the program would be 36.9. */
function asWritten(text: string): number {
  return `\u0001${text}` as unknown as number;
}

/** The JSON of a resource with its numbers as they were written. */
export function toText(resource: object): string {
  return JSON.stringify(resource).replace(/"\\u0001(-?\d+(?:\.\d+)?)"/g, '$1');
}
