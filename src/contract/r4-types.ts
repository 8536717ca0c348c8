/**
 * Parts of FHIR R4 (4.0.1): element names with their types, `*` for a list. Of a Patient, what a
 * registered one may be made of: the rest is refused by name, so that nothing is served that nobody has
 * looked at. Of an Observation all elements: what becomes of each is said in `intake/fhir`.
 */

import { primitiveCheck } from './r4-primitives.js';
import { SUBSCRIPTION_TYPES } from './r4-subscription-types.js';

/** Resources whose form can be checked. */
export type CheckedType = 'Patient' | 'Observation' | 'Subscription';

type Elements = Readonly<Record<string, string>>;

/** What an Observation and a component of it have in common. */
const MEASURED: Elements = {
  extension: 'MeasuredExtension*',
  modifierExtension: 'any*',
  code: 'CodeableConcept',
  valueQuantity: 'Quantity',
  valueCodeableConcept: 'CodeableConcept',
  valueString: 'string',
  valueBoolean: 'boolean',
  valueInteger: 'integer',
  valueRange: 'Range',
  valueRatio: 'any',
  valueSampledData: 'any',
  valueTime: 'string',
  valueDateTime: 'dateTime',
  valuePeriod: 'Period',
  dataAbsentReason: 'CodeableConcept',
  interpretation: 'CodeableConcept*',
  referenceRange: 'ReferenceRange*',
};

const REFERENCE: Elements = {
  reference: 'string',
  type: 'uri',
  identifier: 'Identifier',
  display: 'string',
};

/** The complex types. Each may also have `id` and `extension`. */
const COMPLEX_TYPES: Readonly<Record<string, Elements>> = {
  Patient: {
    resourceType: 'code',
    id: 'id',
    meta: 'Meta',
    language: 'code',
    text: 'Narrative',
    identifier: 'Identifier*',
    active: 'boolean',
    name: 'HumanName*',
    telecom: 'ContactPoint*',
    gender: 'gender',
    birthDate: 'date',
    deceasedBoolean: 'boolean',
    deceasedDateTime: 'dateTime',
    address: 'Address*',
    maritalStatus: 'CodeableConcept',
    multipleBirthBoolean: 'boolean',
    multipleBirthInteger: 'integer',
    contact: 'PatientContact*',
    communication: 'PatientCommunication*',
    generalPractitioner: 'Reference*',
    managingOrganization: 'Reference',
  },
  Observation: {
    resourceType: 'code',
    id: 'id',
    meta: 'Meta',
    implicitRules: 'uri',
    language: 'code',
    text: 'Narrative',
    contained: 'any*',
    identifier: 'Identifier*',
    basedOn: 'Reference*',
    partOf: 'Reference*',
    status: 'observationStatus',
    category: 'CodeableConcept*',
    subject: 'Reference',
    focus: 'Reference*',
    encounter: 'Reference',
    effectiveDateTime: 'dateTime',
    effectivePeriod: 'Period',
    effectiveTiming: 'any',
    effectiveInstant: 'instant',
    issued: 'instant',
    performer: 'Reference*',
    note: 'Annotation*',
    bodySite: 'CodeableConcept',
    method: 'CodeableConcept',
    specimen: 'Reference',
    device: 'Reference',
    hasMember: 'Reference*',
    derivedFrom: 'Reference*',
    component: 'ObservationComponent*',
    ...MEASURED,
  },
  ObservationComponent: MEASURED,
  ...SUBSCRIPTION_TYPES,
  ReferenceRange: {
    modifierExtension: 'any*',
    low: 'Quantity',
    high: 'Quantity',
    type: 'CodeableConcept',
    appliesTo: 'CodeableConcept*',
    age: 'Range',
    text: 'string',
  },
  Annotation: {
    authorReference: 'Reference',
    authorString: 'string',
    time: 'dateTime',
    text: 'string',
  },
  Quantity: {
    value: 'decimal',
    comparator: 'quantityComparator',
    unit: 'string',
    system: 'uri',
    code: 'code',
  },
  Range: { low: 'Quantity', high: 'Quantity' },
  Meta: {
    versionId: 'id',
    lastUpdated: 'instant',
    source: 'uri',
    profile: 'canonical*',
    security: 'Coding*',
    tag: 'Coding*',
  },
  Narrative: { status: 'narrativeStatus', div: 'string' },
  Identifier: {
    use: 'identifierUse',
    type: 'CodeableConcept',
    system: 'uri',
    value: 'string',
    period: 'Period',
    assigner: 'Reference',
  },
  HumanName: {
    use: 'nameUse',
    text: 'string',
    family: 'string',
    given: 'string*',
    prefix: 'string*',
    suffix: 'string*',
    period: 'Period',
  },
  ContactPoint: {
    system: 'contactSystem',
    value: 'string',
    use: 'contactUse',
    rank: 'positiveInt',
    period: 'Period',
  },
  Address: {
    use: 'addressUse',
    type: 'addressType',
    text: 'string',
    line: 'string*',
    city: 'string',
    district: 'string',
    state: 'string',
    postalCode: 'string',
    country: 'string',
    period: 'Period',
  },
  PatientContact: {
    relationship: 'CodeableConcept*',
    name: 'HumanName',
    telecom: 'ContactPoint*',
    address: 'Address',
    gender: 'gender',
    organization: 'Reference',
    period: 'Period',
  },
  PatientCommunication: { language: 'CodeableConcept', preferred: 'boolean' },
  CodeableConcept: { coding: 'Coding*', text: 'string' },
  Coding: {
    system: 'uri',
    version: 'string',
    code: 'code',
    display: 'string',
    userSelected: 'boolean',
  },
  Period: { start: 'dateTime', end: 'dateTime' },
  Reference: REFERENCE,
  // A Patient is kept and shown as it came: no decimals there, whose last zeros would be lost.
  MeasuredExtension: {
    url: 'uri',
    extension: 'MeasuredExtension*',
    valueBoolean: 'boolean',
    valueCode: 'code',
    valueCodeableConcept: 'CodeableConcept',
    valueQuantity: 'Quantity',
    valueRange: 'Range',
    valueReference: 'Reference',
    valueString: 'string',
  },
  Extension: {
    url: 'uri',
    valueAddress: 'Address',
    valueBoolean: 'boolean',
    valueCode: 'code',
    valueCodeableConcept: 'CodeableConcept',
    valueCoding: 'Coding',
    valueDate: 'date',
    valueDateTime: 'dateTime',
    valueIdentifier: 'Identifier',
    valueInteger: 'integer',
    valuePeriod: 'Period',
    valuePositiveInt: 'positiveInt',
    valueReference: 'Reference',
    valueString: 'string',
    valueUnsignedInt: 'unsignedInt',
    valueUri: 'uri',
  },
};

/** The type of an element of a complex type, `*` for a list; undefined: there is no such element. */
export function elementType(type: string, name: string): string | undefined {
  const own = COMPLEX_TYPES[type] ?? {};
  if (Object.hasOwn(own, name)) return own[name];
  if (name === 'extension') return 'Extension*';
  if (name === 'id') return 'string';
  // An underscore: id and extensions of a primitive element that stands once.
  const primitive = /^_(?!id$|resourceType$)/.test(name) ? name.slice(1) : '';
  const isPrimitive = Object.hasOwn(own, primitive) && primitiveCheck(own[primitive] ?? '');
  return isPrimitive === false || isPrimitive === undefined ? undefined : 'Element';
}

/** What the references may point to; one that is not here, to anything. */
export const REFERENCE_TARGETS: Readonly<Record<string, readonly string[]>> = {
  'Patient.generalPractitioner': ['Organization', 'Practitioner', 'PractitionerRole'],
  'Patient.managingOrganization': ['Organization'],
  'PatientContact.organization': ['Organization'],
  'Identifier.assigner': ['Organization'],
};

/** Elements that cannot be left out (minimum cardinality 1 in R4). */
export const REQUIRED: Readonly<Record<string, readonly string[]>> = {
  Narrative: ['status', 'div'],
  PatientCommunication: ['language'],
  Observation: ['status', 'code'],
  ObservationComponent: ['code'],
  Annotation: ['text'],
  Subscription: ['status', 'reason', 'criteria', 'channel'],
  SubscriptionChannel: ['type'],
  MeasuredExtension: ['url'],
  Extension: ['url'],
};

/** Of each pair only one may stand (choice types). */
export const CHOICES: Readonly<Record<string, readonly string[]>> = {
  Patient: ['deceased', 'multipleBirth'],
  Observation: ['effective', 'value'],
  ObservationComponent: ['value'],
  Annotation: ['author'],
  MeasuredExtension: ['value'],
  Extension: ['value'],
};

/** Elements of R4 that are known and not taken, and why. */
export const NOT_TAKEN: Readonly<Record<string, string>> = {
  contained: 'contained resources are not kept',
  modifierExtension:
    'a modifier extension changes the meaning in a way that is not understood here',
  implicitRules: 'implicit rules are not understood here',
  photo: 'pictures are not kept',
  link: 'the gateway states it itself, from merges',
};
