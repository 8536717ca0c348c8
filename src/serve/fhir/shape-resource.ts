/** Resources shown in part: `_summary` and `_elements` (FHIR R4 §3.1.1.5.8 and §3.1.1.5.9). */
import type { FhirResource, Meta } from 'fhir/r4.js';

export type Shape =
  { readonly summary: 'true' | 'text' | 'data' | null } | { readonly elements: readonly string[] };

export const WHOLE: Shape = { summary: null };

const SUBSETTED = {
  system: 'http://terminology.hl7.org/CodeSystem/v3-ObservationValue',
  code: 'SUBSETTED',
  // As the code system has it (R4 4.0.1), not as an example of R4 words it.
  display: 'subsetted',
};

/** What is in every resource that is shown at all. */
const ALWAYS = ['resourceType', 'id', 'meta', 'implicitRules', 'modifierExtension'];

/** Elements that R4 4.0.1 demands (`min` above 0), by type. */
const MANDATORY: Readonly<Record<string, readonly string[]>> = {
  Observation: ['status', 'code'],
  Encounter: ['status', 'class'],
};

/** Elements that R4 4.0.1 marks as part of the summary (Σ), beside those of {@link ALWAYS}. */
const SUMMARY: Readonly<Record<string, readonly string[]>> = {
  Observation:
    'identifier basedOn partOf status code subject focus encounter effective issued performer value component hasMember derivedFrom'.split(
      ' ',
    ),
  Patient:
    'identifier active name telecom gender birthDate deceased address managingOrganization link'.split(
      ' ',
    ),
  // A device without its name would tell nobody anything; R4 marks no more of it than this.
  Device: ['identifier', 'status', 'owner'],
  Encounter:
    'identifier status class type serviceType subject episodeOfCare participant appointment reasonCode reasonReference diagnosis'.split(
      ' ',
    ),
  Practitioner: 'identifier active name telecom address gender birthDate'.split(' '),
  Location:
    'identifier status operationalStatus name description mode type physicalType managingOrganization'.split(
      ' ',
    ),
};

/** Elements of a component of an Observation that are part of the summary. */
const COMPONENT_SUMMARY = ['code', 'value'];

/** The elements whose name goes on with the type of what they hold. */
const CHOICES = ['value', 'effective', 'deceased', 'multipleBirth'];

function isElement(key: string, name: string): boolean {
  const own = key.replace(/^_/, '');
  return (
    own === name ||
    (CHOICES.includes(name) && own.startsWith(name) && /^[A-Z]/.test(own.slice(name.length)))
  );
}

function keep<T extends object>(source: T, names: readonly string[]): Partial<T> {
  return Object.fromEntries(
    Object.entries(source).filter(([key]) => names.some((name) => isElement(key, name))),
  ) as Partial<T>;
}

/** The part of a resource that the shape leaves, tagged so that nobody takes it for the whole. */
export function shapeResource<R extends FhirResource>(resource: R, shape: Shape): R {
  if ('summary' in shape && shape.summary === null) return resource;
  const shown = keep(resource, namesFor(resource, shape));
  const summed = 'summary' in shape && shape.summary === 'true';
  const component =
    summed && 'component' in shown && Array.isArray(shown.component)
      ? { component: shown.component.map((one: object) => keep(one, COMPONENT_SUMMARY)) }
      : {};
  return { ...shown, ...component, meta: shapedMeta(resource.meta ?? {}, shape) } as R;
}

/** A part of a resource has not what a profile demands, so that it names none; the text is none of that. */
function shapedMeta({ profile, tag = [], ...meta }: Meta, shape: Shape): Meta {
  const isData = 'summary' in shape && shape.summary === 'data';
  return {
    ...meta,
    ...(isData && profile !== undefined ? { profile } : {}),
    tag: [...tag, SUBSETTED],
  };
}

function namesFor(resource: FhirResource, shape: Shape): readonly string[] {
  const type = resource.resourceType;
  const always = [...ALWAYS, ...(MANDATORY[type] ?? [])];
  if ('elements' in shape) return [...always, ...shape.elements];
  switch (shape.summary) {
    case 'true':
      return [...always, ...(SUMMARY[type] ?? [])];
    case 'text':
      return [...always, 'text'];
    case 'data':
    case null:
      return Object.keys(resource).filter((key) => key !== 'text');
  }
}
