import type { CodeableConcept, Observation, ObservationComponent, Quantity } from 'fhir/r4.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import type { CatalogueRow, PartRow } from '../../vitals/catalogue.js';
import { consciousnessConcept } from '../../vitals/codes.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { Part } from '../../vitals/words.js';
import { fhirDecimal } from './fhir-json.js';
import {
  ABSENT_CONCEPTS,
  IN_ERROR,
  INTERPRETATION_CONCEPTS,
  SIGNAL_CONCEPTS,
  codeable,
  partConcept,
} from './render-codings.js';

const UCUM = 'http://unitsofmeasure.org';

type ValueElements = Pick<
  Observation,
  'valueQuantity' | 'valueCodeableConcept' | 'dataAbsentReason' | 'interpretation' | 'component'
>;

/**
 * What was measured, or why there is nothing. A pressure is its components, and never has a value of
 * its own (R4 profile bp); any other sign has a value or a reason, never both (obs-6, vs-2).
 */
export function renderValue(version: ReadingVersion): ValueElements {
  const { parts } = CATALOGUE[version.vital];
  if (parts.length > 0) return renderPressure(version, parts);
  return valueOrReason(version);
}

function valueOrReason(version: ReadingVersion): ValueElements {
  if (version.code !== null) {
    return {
      valueCodeableConcept: codeable(consciousnessConcept(version.code)),
      ...interpretationOf(version, 'value'),
    };
  }
  return quantityOrReason(version, 'value');
}

/** The elements that an Observation and a component have in common. */
function quantityOrReason(
  version: ReadingVersion,
  part: Part,
): Pick<ObservationComponent, 'valueQuantity' | 'dataAbsentReason' | 'interpretation'> {
  if (isInError(version, part)) return { dataAbsentReason: IN_ERROR };
  const text = version.values[part];
  if (text === undefined) return { dataAbsentReason: absentReason(version) };
  return {
    valueQuantity: renderQuantity(CATALOGUE[version.vital], text),
    ...interpretationOf(version, part),
  };
}

/** What a device says of its signal is of the whole reading: beside the code of a value, above those of parts. */
function interpretationOf(
  version: ReadingVersion,
  part: Part,
): Pick<ObservationComponent, 'interpretation'> {
  const code = version.interpretation[part];
  const concepts = [
    ...(code === undefined ? [] : [INTERPRETATION_CONCEPTS[code]]),
    ...(part === 'value' ? signalOf(version) : []),
  ];
  return concepts.length === 0 ? {} : { interpretation: concepts };
}

function signalOf({ report }: ReadingVersion): CodeableConcept[] {
  return (report?.signal ?? []).map((each) => SIGNAL_CONCEPTS[each]);
}

/** Systolic and diastolic always, as the profile demands; the mean only where there was one. */
function renderPressure(version: ReadingVersion, parts: readonly PartRow[]): ValueElements {
  const component = parts
    .filter(({ part }) => part !== 'mean' || version.values.mean !== undefined)
    .map((row) => ({
      code: partConcept(row, version),
      ...quantityOrReason(version, row.part),
    }));
  if (version.absent !== null) {
    return { dataAbsentReason: ABSENT_CONCEPTS[version.absent], component };
  }
  const interpretation = signalOf(version);
  return interpretation.length === 0 ? { component } : { interpretation, component };
}

/** Whether a rule found that this part cannot be what it was sent as: then it is not shown as a value. */
export function isInError({ findings }: ReadingVersion, part: Part): boolean {
  return findings.some((finding) => finding.partInError === part);
}

function absentReason({ absent }: ReadingVersion): CodeableConcept {
  return ABSENT_CONCEPTS[absent ?? 'not-done'];
}

/** A decimal text in the unit of a sign. */
export function renderQuantity(
  { unit, unitText }: Pick<CatalogueRow, 'unit' | 'unitText'>,
  text: string,
): Quantity {
  return {
    value: fhirDecimal(text),
    unit: unitText,
    system: UCUM,
    ...(unit === null ? {} : { code: unit }),
  };
}
