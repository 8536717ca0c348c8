/** The value of an Observation or of a component of it, or why there is none. */
import type { CodeableConcept, Observation, ObservationComponent } from 'fhir/r4.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import { PARTS, type Part, type Vital } from '../../vitals/words.js';
import type { Faults } from './fhir-fault.js';
import { absenceWord, readAbsence } from './read-absence.js';
import type { SignComponent } from './read-components.js';
import { readConsciousness } from './read-concepts.js';
import { readQuantity, type ReadQuantity } from './read-quantity.js';
import type { ReadValue } from './reading-draft.js';
import type { Surroundings } from './sent-entry.js';

type Measured = Pick<
  Observation | ObservationComponent,
  'valueQuantity' | 'valueCodeableConcept' | 'dataAbsentReason'
>;

const NOTHING: ReadValue = { value: null, doubts: [] };

/**
 * The value of a sign with one number or one code.
 * @param path before the names of the elements: '' or `component[1].`
 */
export function readValue(
  vital: Vital,
  part: Part,
  measured: Measured,
  path: string,
  around: Surroundings,
  faults: Faults,
): ReadValue {
  const { valueQuantity, valueCodeableConcept, dataAbsentReason } = measured;
  const isCoded = CATALOGUE[vital].form === 'code';
  const [right, wrong] = isCoded
    ? (['valueCodeableConcept', 'valueQuantity'] as const)
    : (['valueQuantity', 'valueCodeableConcept'] as const);
  if (measured[wrong] !== undefined) {
    const text = `${path}${wrong} is not taken: this sign has a ${right}.`;
    faults.refuse(`${path}${wrong}`, 'not-supported', text);
    return NOTHING;
  }
  if (dataAbsentReason !== undefined) {
    return readReason(dataAbsentReason, measured[right] !== undefined, path, faults);
  }
  if (valueQuantity !== undefined) return numberOf(part, valueQuantity, around);
  if (valueCodeableConcept !== undefined) return codeOf(valueCodeableConcept, path, faults);
  const text = `${path}${right} or ${path}dataAbsentReason must be there (vs-2, vs-3).`;
  faults.refuse(`${path}${right}`, 'invariant', text);
  return NOTHING;
}

function readReason(
  reason: CodeableConcept,
  hasValue: boolean,
  path: string,
  faults: Faults,
): ReadValue {
  if (hasValue) {
    const text = `${path}dataAbsentReason stands beside a value (obs-6).`;
    faults.refuse(`${path}dataAbsentReason`, 'invariant', text);
  }
  const absent = readAbsence(reason);
  return absent === undefined
    ? { ...NOTHING, reason: absenceWord(reason) }
    : { value: { absent }, doubts: [] };
}

function numberOf(
  part: Part,
  quantity: NonNullable<Measured['valueQuantity']>,
  { digits, profile }: Surroundings,
): ReadValue {
  const { number, unit, ...rest } = readQuantity(quantity, digits, profile.mapping.units);
  return {
    value: { ...(number !== undefined && { [part]: number }), ...(unit !== undefined && { unit }) },
    ...rest,
  };
}

function codeOf(concept: CodeableConcept, path: string, faults: Faults): ReadValue {
  const code = readConsciousness(concept);
  if (code !== undefined) return { value: { code }, doubts: [] };
  const at = `${path}valueCodeableConcept`;
  faults.refuse(at, 'code-invalid', `${at} has no code of a level of consciousness.`);
  return NOTHING;
}

/** A pressure from its components; a part that was not measured is left out. */
export function readPressure(
  observation: Observation,
  parts: ReadonlyMap<Exclude<Part, 'value'>, SignComponent>,
  around: Surroundings,
  faults: Faults,
): ReadValue {
  if (observation.valueQuantity !== undefined) {
    const text = 'A blood pressure has no value of its own, only its components.';
    faults.refuse('valueQuantity', 'structure', text);
  }
  const read = [...parts].map(([part, { component, path }]) => ({
    path,
    ...readValue('blood-pressure', part, component, `${path}.`, around, faults),
  }));
  const measured = read.filter(({ value }) => value !== null && value.absent === undefined);
  if (measured.length === 0) return readNoPressure(observation, read, faults);
  const [first, ...more] = measured;
  for (const other of more) {
    if (other.value?.unit === first?.value?.unit) continue;
    const text = `${other.path}.valueQuantity has another unit than the other parts.`;
    faults.refuse(`${other.path}.valueQuantity`, 'code-invalid', text);
  }
  return {
    value: Object.assign({}, ...measured.map(({ value }) => value)) as ReadValue['value'],
    doubts: [...new Set(measured.flatMap(({ doubts }): readonly ReportDoubt[] => doubts))],
    ...joined(measured),
  };
}

function joined(list: readonly Pick<ReadQuantity, 'asSent'>[]): { asSent?: string } {
  const asSent = list.flatMap((one) => one.asSent ?? []).join(', ');
  return asSent === '' ? {} : { asSent };
}

function readNoPressure(
  { dataAbsentReason }: Observation,
  parts: readonly ReadValue[],
  faults: Faults,
): ReadValue {
  if (dataAbsentReason !== undefined) return readReason(dataAbsentReason, false, '', faults);
  const [first] = parts;
  if (first !== undefined) return first;
  const text = 'component with a pressure, or dataAbsentReason, must be there (vs-2).';
  faults.refuse('component', 'invariant', text);
  return NOTHING;
}

/** Whether there is a number or a code. */
export function hasMeasurement({ value, asSent }: ReadValue): boolean {
  const { code } = value ?? {};
  return (
    code !== undefined || asSent !== undefined || PARTS.some((part) => value?.[part] !== undefined)
  );
}
