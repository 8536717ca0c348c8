/** FHIR Observations as lines for a person. */
import type {
  Bundle,
  CodeableConcept,
  Observation,
  ObservationComponent,
  OperationOutcome,
} from 'fhir/r4.js';

function conceptText(concept: CodeableConcept | undefined): string | undefined {
  return concept?.text ?? concept?.coding?.[0]?.display ?? concept?.coding?.[0]?.code;
}

/** "8867-4 Heart rate". */
function codeText(code: CodeableConcept): string {
  return `${code.coding?.[0]?.code ?? ''} ${conceptText(code) ?? ''}`.trim();
}

function measuredText(
  one: Pick<
    ObservationComponent & Observation,
    'valueQuantity' | 'valueCodeableConcept' | 'dataAbsentReason' | 'interpretation'
  >,
): string {
  const { valueQuantity: quantity } = one;
  const value = quantity && `${quantity.value} ${quantity.unit ?? ''}`;
  const words = value ?? conceptText(one.valueCodeableConcept ?? one.dataAbsentReason) ?? '';
  const code = one.interpretation?.[0]?.coding?.[0]?.code;
  return code === undefined ? words : `${words} (${code})`;
}

/** "Status: final. Method: palpation. …": what is not stated is left out. */
function circumstances({ status, meta, method, bodySite }: Observation): string {
  const tags = (meta?.tag ?? []).map(({ code }) => code).join(', ');
  const stated = [
    ['Status', status],
    ['Tag', tags],
    ['Method', conceptText(method)],
    ['Site', conceptText(bodySite)],
  ] as const;
  return stated
    .filter(([, text]) => text !== undefined && text !== '')
    .map(([name, text]) => `${name}: ${text}`)
    .join('. ');
}

function observationLines(observation: Observation): string[] {
  const { id = '', code, component = [], note = [], hasMember } = observation;
  const measured =
    hasMember === undefined ? measuredText(observation) : `${hasMember.length} members`;
  return [
    `  ${codeText(code)}: ${measured}`.trimEnd(),
    ...component.map((part) => `    ${codeText(part.code)}: ${measuredText(part)}`),
    `    ${circumstances(observation)}`,
    ...note.map(({ text }) => `    Note: ${text}`),
    `    Observation/${id}`,
  ];
}

/** The matches of a search, then what the server says beside them. */
export function observationsLines(bundle: Bundle<Observation | OperationOutcome>): string[] {
  return (bundle.entry ?? []).flatMap(({ resource }) => {
    if (resource?.resourceType === 'Observation') return observationLines(resource);
    return (resource?.issue ?? []).map(({ details }) => `  ${details?.text ?? ''}`);
  });
}
