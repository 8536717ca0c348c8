/** What an Observation says in words, or in elements for which the gateway has words only. */
import type {
  Annotation,
  Extension,
  Observation,
  ObservationComponent,
  ObservationReferenceRange,
  Range,
} from 'fhir/r4.js';
import { extensionOf } from './extensions.js';
import type { Faults } from './fhir-fault.js';
import type { Digits } from './read-exact-json.js';
import { describeQuantity } from './read-quantity.js';

/** Four times what a person may type: the remarks of several authors become one text. */
const MAX_NOTE = 2000;

type Measured = Pick<Observation | ObservationComponent, 'extension' | 'referenceRange'>;

/** Remarks, each with its time and its author, unless that is who measured. */
export function readRemarks({ note = [], performer = [] }: Observation): string[] {
  const measurers = performer.map(({ identifier }) => identifier?.value);
  return note.map(({ time, authorString, authorReference, text }: Annotation) => {
    const { display, identifier } = authorReference ?? {};
    const named = measurers.includes(identifier?.value) ? undefined : identifier?.value;
    const author = authorString ?? display ?? named;
    const head = [time, author].filter((part) => part !== undefined).join(', ');
    return head === '' ? text : `${head}: ${text}`;
  });
}

/** Accuracy, confidence and alert limits (Personal Health Device guide), and reference ranges. */
export function describeMeasured(measured: Measured, digits: Digits): string[] {
  const accuracy = describeQuantity(extensionOf(measured, 'accuracy')?.valueQuantity, digits);
  const confidence = describeRange(extensionOf(measured, 'confidence')?.valueRange, digits);
  return [
    ...(accuracy === '' ? [] : [`Accuracy: ${accuracy}`]),
    ...(confidence === '' ? [] : [`95 % confidence: ${confidence}`]),
    ...describeAlerting(extensionOf(measured, 'alerting'), digits),
    ...(measured.referenceRange ?? []).map((one) => describeReferenceRange(one, digits)),
  ];
}

function describeRange(range: Partial<Range> | undefined, digits: Digits): string {
  const [low, high] = [describeQuantity(range?.low, digits), describeQuantity(range?.high, digits)];
  if (low !== '' && high !== '') return `${low} to ${high}`;
  if (low !== '') return `from ${low}`;
  return high === '' ? '' : `up to ${high}`;
}

function describeReferenceRange(one: ObservationReferenceRange, digits: Digits): string {
  const words = [
    describeRange(one, digits),
    one.text,
    one.type?.text ?? one.type?.coding?.[0]?.display ?? one.type?.coding?.[0]?.code,
    ...(one.appliesTo ?? []).map(({ text, coding }) => text ?? coding?.[0]?.display),
    one.age === undefined ? undefined : `age ${describeRange(one.age, digits)}`,
  ].filter((word) => word !== undefined && word !== '');
  return `Reference range as sent: ${words.join(', ')}`;
}

function describeAlerting(alerting: Extension | undefined, digits: Digits): string[] {
  const parts = (alerting?.extension ?? []).flatMap(({ valueRange, valueString, ...rest }) => {
    const { text, coding } = rest.valueCodeableConcept ?? {};
    const range = describeRange(valueRange, digits);
    const words = valueString ?? text ?? coding?.[0]?.display ?? coding?.[0]?.code ?? range;
    return words === '' ? [] : [words];
  });
  return parts.length === 0 ? [] : [`Alert settings of the device: ${parts.join(', ')}`];
}

/** All of it as one text; undefined: nothing is said. */
export function joinNotes(notes: readonly string[], faults: Faults): string | undefined {
  const text = [...new Set(notes)].join('\n');
  if (text.length > MAX_NOTE) {
    const words = `The notes, and what becomes a note, are longer than ${MAX_NOTE} characters.`;
    faults.refuse('note', 'too-long', words);
  }
  return text === '' ? undefined : text;
}
