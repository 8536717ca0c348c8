/**
 * The coded elements of an Observation. Concepts are made once and shared by every Observation that
 * needs them: nobody may change what a renderer returned.
 */
import type { CodeableConcept, Coding as FhirCoding } from 'fhir/r4.js';
import { CATALOGUE, codingsOf } from '../../vitals/catalogue.js';
import type { PartRow } from '../../vitals/catalogue.js';
import { siteConcept } from '../../vitals/codes.js';
import type { Coding, Concept } from '../../vitals/codes.js';
import type { SignalDoubt } from '../../vitals/device-report.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import type { AbsentReason, Interpretation } from '../../vitals/words.js';

const TERMINOLOGY = 'http://terminology.hl7.org/CodeSystem/';

/** System of the gateway's own tags, by which a record may tell doubted values from settled ones. */
export const TAG_SYSTEM = 'urn:vital-sign-gateway:tag';

export const TAGS = {
  unreviewed: {
    system: TAG_SYSTEM,
    code: 'unreviewed',
    display: 'Sent by an unattended device, reviewed by nobody',
  },
  unconfirmed: {
    system: TAG_SYSTEM,
    code: 'unconfirmed',
    display: 'Doubted, held for review',
  },
  'doubtful-signal': {
    system: TAG_SYSTEM,
    code: 'doubtful-signal',
    display: 'The device itself doubts its signal',
  },
  'unsettled-members': {
    system: TAG_SYSTEM,
    code: 'unsettled-members',
    display: 'A panel with a preliminary member',
  },
  'late-arrival': {
    system: TAG_SYSTEM,
    code: 'late-arrival',
    display: 'Arrived long after it was taken: no present value',
  },
} as const satisfies Readonly<Record<string, FhirCoding>>;

export const VITAL_SIGNS_CATEGORY = concept('observation-category', 'vital-signs', 'Vital Signs');

/** Displays: code system v3-ObservationInterpretation. */
export const INTERPRETATION_CONCEPTS: Readonly<Record<Interpretation, CodeableConcept>> = {
  LL: concept('v3-ObservationInterpretation', 'LL', 'Critical low'),
  L: concept('v3-ObservationInterpretation', 'L', 'Low'),
  N: concept('v3-ObservationInterpretation', 'N', 'Normal'),
  H: concept('v3-ObservationInterpretation', 'H', 'High'),
  HH: concept('v3-ObservationInterpretation', 'HH', 'Critical high'),
};

/**
 * What a device says of its own signal: code system and displays as the HL7 Point-of-Care Device guide has
 * them (measurement status of ISO/IEEE 11073-10201; the guide's own canonical URL of it).
 */
export const SIGNAL_CONCEPTS: Readonly<Record<SignalDoubt, CodeableConcept>> = {
  questionable: concept('measurement-status', 'questionable', 'Questionable'),
  calibrating: concept('measurement-status', 'calibration-ongoing', 'Calibration ongoing'),
  early: concept('measurement-status', 'early-indication', 'Early indication'),
};

const NOT_PERFORMED = concept('data-absent-reason', 'not-performed', 'Not Performed');

/** Displays: code system data-absent-reason of FHIR R4. */
export const ABSENT_CONCEPTS: Readonly<Record<AbsentReason, CodeableConcept>> = {
  'not-done': NOT_PERFORMED,
  refused: concept('data-absent-reason', 'asked-declined', 'Asked But Declined'),
  'not-possible': { ...NOT_PERFORMED, text: 'Measurement was not possible' },
};

/** For a part whose value a rule found impossible: withheld, and said to be. */
export const IN_ERROR = concept('data-absent-reason', 'error', 'Error');

/** For a value that was calculated once and is no more. */
export const NO_LONGER = concept('data-absent-reason', 'not-applicable', 'Not Applicable');

/** `Observation.code`: required LOINC, specific LOINC, MDC, in this order. */
export function codeConcept({ vital, method, site }: ReadingVersion): CodeableConcept {
  const row = CATALOGUE[vital];
  return remembered(`code ${vital} ${method ?? ''} ${site ?? ''}`, () => ({
    coding: codingsOf(row, method, site),
    text: row.display,
  }));
}

/** `Observation.component.code`, built like {@link codeConcept}. */
export function partConcept(part: PartRow, { method, site }: ReadingVersion): CodeableConcept {
  return remembered(`part ${part.part} ${method ?? ''} ${site ?? ''}`, () => ({
    coding: codingsOf(part, method, site),
    text: part.display,
  }));
}

/** `Observation.bodySite`; undefined when neither site nor side was told. */
export function bodySiteConcept({
  vital,
  site,
  side,
}: ReadingVersion): CodeableConcept | undefined {
  if (site === null && side === null) return undefined;
  return remembered(
    `site ${vital} ${site ?? ''} ${side ?? ''}`,
    () => siteConcept(vital, site, side) ?? { text: '' },
  );
}

/** A concept of the catalogue as FHIR writes it. */
export function codeable({ coding, text }: Concept): CodeableConcept {
  return coding === undefined ? { text } : { coding: coding as FhirCoding[], text };
}

const known = new Map<string, CodeableConcept>();

/** Bounded by the words of the contract: a few thousand combinations at most. */
function remembered(key: string, make: () => Concept): CodeableConcept {
  let found = known.get(key);
  if (found === undefined) {
    found = codeable(make());
    known.set(key, found);
  }
  return found;
}

function concept(system: string, code: string, display: string): CodeableConcept {
  const coding: Coding = { system: `${TERMINOLOGY}${system}`, code, display };
  return { coding: [coding] };
}
