/** Components: the parts of a pressure, vital signs beside the one that was measured, supplemental types. */
import type { CodeableConcept, Observation, ObservationComponent } from 'fhir/r4.js';
import type { CodedSign } from '../../vitals/coded-sign.js';
import type { CodeFound } from '../../vitals/find-sign.js';
import { findPlace } from '../../vitals/codes-body-sites.js';
import type { Part } from '../../vitals/words.js';
import type { Faults } from './fhir-fault.js';
import { refuseElements } from './observation-elements.js';
import { readSign, type Told } from './read-sign.js';
import { sentCodes } from './read-concepts.js';
import type { Surroundings } from './sent-entry.js';

/** A component that tells of a vital sign. */
export interface SignComponent {
  readonly sign: CodedSign;
  readonly found: CodeFound;
  readonly component: ObservationComponent;
  /** `component[1]`. */
  readonly path: string;
}

export interface ReadComponents {
  readonly parts: ReadonlyMap<Exclude<Part, 'value'>, SignComponent>;
  /** Other vital signs. */
  readonly others: readonly SignComponent[];
  /** What supplemental types tell. */
  readonly supplements: readonly CodeableConcept[];
}

/** @param told by the elements of the Observation itself */
export function readComponents(
  { component = [] }: Observation,
  told: Told,
  { profile }: Surroundings,
  faults: Faults,
): ReadComponents {
  const parts = new Map<Exclude<Part, 'value'>, SignComponent>();
  const others: SignComponent[] = [];
  const supplements: CodeableConcept[] = [];
  component.forEach((one, i) => {
    const path = `component[${i}]`;
    refuseElements(one, faults, path);
    const found = readSign(sentCodes(one.code), profile.mapping.codes, told);
    if (found.kind === 'context' && found.context === 'modality') {
      if (one.valueCodeableConcept !== undefined) supplements.push(one.valueCodeableConcept);
      else faults.refuse(path, 'required', `${path} must have a valueCodeableConcept.`);
    } else if (found.kind !== 'sign') {
      faults.refuse(`${path}.code`, 'code-invalid', `${path} has no code that is carried here.`);
    } else {
      const read = { sign: found.sign, found, component: one, path };
      const { part } = found.sign;
      if (part === undefined) others.push(read);
      else if (parts.has(part)) {
        faults.refuse(path, 'structure', `${path} is a part of a pressure that stands twice.`);
      } else parts.set(part, read);
    }
  });
  return { parts, others, supplements };
}

/** Supplemental types that are places on the body, and the others in words. */
export function readSupplements(supplements: readonly CodeableConcept[]): {
  readonly places: readonly CodeableConcept[];
  readonly notes: readonly string[];
} {
  const isPlace = (one: CodeableConcept): boolean =>
    sentCodes(one).some((code) => findPlace(code) !== undefined);
  return {
    places: supplements.filter(isPlace),
    notes: supplements
      .filter((one) => !isPlace(one))
      .map(({ text, coding: [first] = [] }) => wordsOf(first?.display ?? first?.code, text))
      .filter((words) => words !== '')
      .map((words) => `Supplemental type: ${words}`),
  };
}

function wordsOf(name = '', text = name): string {
  return name === text || name === '' ? text : `${name} (${text})`;
}
