/**
 * What becomes of each element of an Observation that is sent in. An element that is refused costs the
 * Observation: nothing that was said about a reading is dropped in silence.
 */
import type { Faults } from './fhir-fault.js';

/** `carried`: kept with the reading; `no-effect`: repeats what is known anyway; `refused`: by name. */
export type ElementUse = 'carried' | 'no-effect' | 'refused';

export interface ElementRow {
  readonly use: ElementUse;
  /** Below Observation; `component.` stands before the elements of its components. */
  readonly element: string;
  /** How it is carried, why it has no effect, or why it is refused. */
  readonly words: string;
}

const row = (use: ElementUse, element: string, words: string): ElementRow => ({
  use,
  element,
  words,
});

const OTHER_VALUE = 'a vital sign is a quantity, or a code for the level of consciousness';
const CHANGES_MEANING = 'it changes the meaning in a way that is not understood here';

/** Forms of value that no vital sign has. */
const OTHER_VALUES: readonly string[] = [
  'valueString',
  'valueBoolean',
  'valueInteger',
  'valueRange',
  'valueRatio',
  'valueSampledData',
  'valueTime',
  'valueDateTime',
  'valuePeriod',
];

export const OBSERVATION_ELEMENTS: readonly ElementRow[] = [
  row('carried', 'identifier', 'kept, shown and found again; with system and value'),
  row(
    'carried',
    'status',
    'preliminary: nobody has reviewed it; registered, cancelled and unknown: a value waits for a person; amended, corrected and entered-in-error: an earlier Observation of the sender is meant',
  ),
  row('carried', 'code', 'the known codings must agree; unknown ones beside them are passed over'),
  row('carried', 'subject', 'whose reading it is'),
  row('carried', 'encounter', 'the visit, by its identifier'),
  row('carried', 'effectiveDateTime', 'with an offset; a date alone is held'),
  row('carried', 'effectiveInstant', 'as effectiveDateTime'),
  row('carried', 'effectivePeriod', 'up to five minutes: its end, and the whole as a note'),
  row('carried', 'performer', 'one Practitioner, by identifier; the patient as a note'),
  row('carried', 'valueQuantity', 'with a UCUM or MDC unit, digit for digit'),
  row('carried', 'valueCodeableConcept', 'for the level of consciousness'),
  row(
    'carried',
    'dataAbsentReason',
    'not-performed or asked-declined; with another it is no reading',
  ),
  row(
    'carried',
    'interpretation',
    'measurement status of IEEE 11073; L, H and the like are found anew',
  ),
  row('carried', 'note', 'all of them as one text of at most 2000 characters'),
  row('carried', 'bodySite', 'by SNOMED CT or MDC code'),
  row('carried', 'method', 'by SNOMED CT code'),
  row('carried', 'device', 'Device or DeviceMetric: the measuring device, by identifier'),
  row('carried', 'referenceRange', 'as a note; the limits here are those of the gateway'),
  row('carried', 'component', 'parts of a pressure, other vital signs, supplemental types'),
  row(
    'carried',
    'extension',
    'body position; coincident time stamp; accuracy, confidence and alert limits as notes; the gateway device without effect',
  ),
  row('carried', 'meta.security', 'test data and doubted signals; other labels but N are refused'),
  row('carried', 'contained', 'what references lead to'),
  row('no-effect', 'id', 'ids are given here'),
  row('no-effect', 'meta', 'but for security; version, profile and tags are stated here'),
  row('no-effect', 'language', 'texts are kept as they are'),
  row('no-effect', 'text', 'a narrative that repeats the elements'),
  row('no-effect', 'category', 'vital-signs, exam, survey and phd; others are refused'),
  row('no-effect', 'issued', 'it is issued when it is published here'),
  row('no-effect', 'hasMember', 'where each member is in the Bundle'),
  row('no-effect', 'derivedFrom', 'where each source is in the Bundle'),
  row('refused', 'implicitRules', CHANGES_MEANING),
  row('refused', 'modifierExtension', CHANGES_MEANING),
  row('refused', 'basedOn', 'orders are not kept'),
  row('refused', 'partOf', 'procedures are not kept'),
  row('refused', 'focus', 'a vital sign is about its subject'),
  row('refused', 'specimen', 'what is measured on a specimen is no vital sign'),
  row('refused', 'effectiveTiming', 'a vital sign has one time'),
  ...OTHER_VALUES.map((name) => row('refused', name, OTHER_VALUE)),
  row('refused', 'component.modifierExtension', CHANGES_MEANING),
  ...OTHER_VALUES.map((name) => row('refused', `component.${name}`, OTHER_VALUE)),
];

const REFUSED: ReadonlyMap<string, string> = new Map(
  OBSERVATION_ELEMENTS.flatMap(({ element, use, words }) =>
    use === 'refused' ? [[element, words] as const] : [],
  ),
);

/**
 * Refuses the elements that the table refuses.
 * @param path of the component; absent: the elements of the Observation itself
 */
export function refuseElements(elements: object, faults: Faults, path?: string): void {
  for (const name of Object.keys(elements)) {
    const why = REFUSED.get(path === undefined ? name : `component.${name}`);
    if (why === undefined) continue;
    const at = path === undefined ? name : `${path}.${name}`;
    const code = name === 'modifierExtension' ? 'extension' : 'not-supported';
    faults.refuse(at, code, `${at} is not taken: ${why}.`);
  }
}

/** The table in three sentences. */
export function describeElements(): string {
  const list = (use: ElementUse): string =>
    OBSERVATION_ELEMENTS.filter((one) => one.use === use && !one.element.startsWith('component.'))
      .map(({ element, words }) => `${element} (${words})`)
      .join('; ');
  return `Carried: ${list('carried')}. Without effect: ${list('no-effect')}. Refused by name: ${list('refused')}, and every extension that is not named here.`;
}
