/** Slices, fixed values and bindings of the vital-signs profiles, checked by hand on a parsed Observation. */
import type {
  CodeableConcept,
  Observation,
  ObservationComponent,
  Quantity,
  Reference,
} from 'fhir/r4.js';
import {
  ABSENT_REASON_CODES,
  BASE_PROFILES,
  COMPONENT_UNITS,
  MEASUREMENT_STATUS_CODES,
  NORMALITY_CODES,
  PROFILES,
  REFERENCE_TYPES,
  TRIGGERS,
} from './vital-sign-profiles.js';
import type { ProfileRules } from './vital-sign-profiles.js';

const LOINC = 'http://loinc.org';
const SNOMED = 'http://snomed.info/sct';
const UCUM = 'http://unitsofmeasure.org';
const CATEGORY = 'http://terminology.hl7.org/CodeSystem/observation-category';
const ABSENT_REASON = 'http://terminology.hl7.org/CodeSystem/data-absent-reason';
const INTERPRETATION = 'http://terminology.hl7.org/CodeSystem/v3-ObservationInterpretation';
const MEASUREMENT_STATUS = 'http://terminology.hl7.org/CodeSystem/measurement-status';
/** PHD implementation guide, "Nomenclature codes": system of 32-bit decimal IEEE 11073-10101 codes. */
const MDC = 'urn:iso:std:iso:11073:10101';

function codes(concept: CodeableConcept | undefined, system: string): string[] {
  return (concept?.coding ?? [])
    .filter((coding) => coding.system === system)
    .map((coding) => coding.code ?? '');
}

/** Everything wrong with an Observation as a vital sign, a line each. */
export function profileFaults(observation: Observation): string[] {
  const claimed = observation.meta?.profile ?? [];
  const triggered = TRIGGERS.filter(([, loinc, snomed]) => isTriggered(observation, loinc, snomed));
  const names = new Set([...claimed, ...triggered.map(([profile]) => profile)]);
  return [
    ...baseFaults(observation),
    ...[...names].flatMap((name) =>
      BASE_PROFILES.includes(name)
        ? []
        : derivedFaults(observation, PROFILES[name]).map((fault) => `${name}: ${fault}`),
    ),
  ];
}

function isTriggered({ code }: Observation, loinc: string, snomed: string): boolean {
  return (
    codes(code, LOINC).some((one) => loinc.split(' ').includes(one)) ||
    codes(code, SNOMED).some((one) => snomed.split(' ').includes(one))
  );
}

/** R4 profile vitalsigns, with what base Observation says of the same elements. */
function baseFaults(observation: Observation): string[] {
  const faults: string[] = [];
  const claim = (holds: boolean, fault: string): void => {
    if (!holds) faults.push(`vitalsigns: ${fault}`);
  };
  const sliced = observation.category?.filter((one) =>
    codes(one, CATEGORY).includes('vital-signs'),
  );
  claim(sliced?.length === 1, 'category slice VSCat 1..1');
  claim(observation.code.coding !== undefined, 'code.coding');
  claim(/^Patient\/[A-Za-z0-9\-.]{1,64}$/.test(observation.subject?.reference ?? ''), 'subject');
  claim(
    (observation.effectiveDateTime !== undefined) !== (observation.effectivePeriod !== undefined),
    'effective[x] 1..1, dateTime or Period',
  );
  claim(
    observation.dataAbsentReason === undefined || observation.interpretation === undefined,
    'interpretation of a value that is absent',
  );
  claim(codingsAreSound(observation), 'coding with system and code, MDC as 32-bit decimal');
  claim(allReferences(observation.performer, REFERENCE_TYPES.performer), 'performer');
  claim(allReferences([observation.device], REFERENCE_TYPES.device), 'device');
  claim(allReferences([observation.encounter], REFERENCE_TYPES.encounter), 'encounter');
  claim(allReferences(observation.derivedFrom, REFERENCE_TYPES.derivedFrom), 'derivedFrom');
  claim(allReferences(observation.hasMember, REFERENCE_TYPES.hasMember), 'hasMember');
  for (const one of [observation, ...(observation.component ?? [])]) {
    claim(absentReasonIsKnown(one.dataAbsentReason), 'dataAbsentReason code');
    claim(interpretationIsSingle(one.interpretation), 'interpretation: one of the normality group');
    claim(one.valueQuantity === undefined || isFullQuantity(one.valueQuantity), 'valueQuantity');
  }
  for (const component of observation.component ?? []) {
    claim(componentValueIsBound(component), 'component.value[x]: required ucum-vitals-common');
  }
  return faults;
}

function codingsAreSound(observation: Observation): boolean {
  const concepts = [
    observation.code,
    observation.method,
    observation.bodySite,
    observation.valueCodeableConcept,
    ...(observation.component ?? []).map((component) => component.code),
  ];
  return concepts.every((concept) =>
    (concept?.coding ?? []).every(
      ({ system, code }) =>
        system !== undefined &&
        code !== undefined &&
        (system !== MDC || /^[1-9]\d{4,9}$/.test(code)),
    ),
  );
}

function allReferences(
  references: readonly (Reference | undefined)[] | undefined,
  types: readonly string[],
): boolean {
  return (references ?? []).every(
    (reference) => reference === undefined || types.includes(reference.type ?? ''),
  );
}

function absentReasonIsKnown(reason: CodeableConcept | undefined): boolean {
  if (reason === undefined) return true;
  const known = codes(reason, ABSENT_REASON);
  return known.length === 1 && known.every((code) => ABSENT_REASON_CODES.includes(code));
}

function interpretationIsSingle(concepts: readonly CodeableConcept[] | undefined): boolean {
  const all = concepts ?? [];
  const found = all.flatMap((concept) => codes(concept, INTERPRETATION));
  const told = all.flatMap((concept) => codes(concept, MEASUREMENT_STATUS));
  return (
    found.length + told.length === all.length &&
    told.every((code) => MEASUREMENT_STATUS_CODES.includes(code)) &&
    found.filter((code) => NORMALITY_CODES.includes(code)).length <= 1
  );
}

function isFullQuantity(quantity: Quantity): boolean {
  return (
    typeof quantity.value === 'number' &&
    typeof quantity.unit === 'string' &&
    quantity.system === UCUM &&
    typeof quantity.code === 'string'
  );
}

function componentValueIsBound(component: ObservationComponent): boolean {
  const values = Object.keys(component).filter((key) => key.startsWith('value'));
  if (values.length === 0) return true;
  return COMPONENT_UNITS.includes(component.valueQuantity?.code ?? '');
}

function derivedFaults(observation: Observation, rules: ProfileRules | undefined): string[] {
  if (rules === undefined) return ['not a profile that is known here'];
  const loinc = codes(observation.code, LOINC);
  const faults = rules.loinc
    .filter((code) => loinc.filter((one) => one === code).length !== 1)
    .map((code) => `code.coding slice ${code} 1..1`);
  const values = Object.keys(observation).filter((key) => /^value[A-Z]/.test(key));
  const unit = observation.valueQuantity?.code;
  if (values.some((key) => rules.units.length === 0 || key !== 'valueQuantity')) {
    faults.push(`value[x]: ${values.join()}`);
  }
  if (unit !== undefined && !rules.units.includes(unit)) faults.push(`unit ${unit}`);
  if (rules.members === true && (observation.hasMember ?? []).length === 0) {
    faults.push('hasMember 1..*');
  }
  return [...faults, ...componentFaults(observation.component ?? [], rules.components ?? {})];
}

function componentFaults(
  components: readonly ObservationComponent[],
  slices: Readonly<Record<string, string>>,
): string[] {
  return Object.entries(slices).flatMap(([code, unit]) => {
    const found = components.filter((component) => codes(component.code, LOINC).includes(code));
    const units = found.flatMap(({ valueQuantity }) => valueQuantity?.code ?? []);
    return [
      ...(found.length === 1 ? [] : [`component slice ${code} 1..1`]),
      ...(units.every((one) => one === unit) ? [] : [`component ${code}: unit`]),
    ];
  });
}
