/**
 * Parts of FHIR R4 (4.0.1): element names with their types, `*` for a list. Of a Patient, what a
 * registered one may be made of: the rest is refused by name, so that nothing is served that nobody has
 * looked at. Of an Observation all elements: what becomes of each is said in `intake/fhir`.
 */

/** Resources whose form can be checked. */
export type CheckedType = 'Patient' | 'Observation';

const CODES: Readonly<Record<string, readonly string[]>> = {
  gender: ['male', 'female', 'other', 'unknown'],
  identifierUse: ['usual', 'official', 'temp', 'secondary', 'old'],
  nameUse: ['usual', 'official', 'temp', 'nickname', 'anonymous', 'old', 'maiden'],
  contactSystem: ['phone', 'fax', 'email', 'pager', 'url', 'sms', 'other'],
  contactUse: ['home', 'work', 'temp', 'old', 'mobile'],
  addressUse: ['home', 'work', 'temp', 'old', 'billing'],
  addressType: ['postal', 'physical', 'both'],
  narrativeStatus: ['generated', 'extensions', 'additional', 'empty'],
  observationStatus: [
    'registered',
    'preliminary',
    'final',
    'amended',
    'corrected',
    'cancelled',
    'entered-in-error',
    'unknown',
  ],
  quantityComparator: ['<', '<=', '>=', '>'],
};

const DATE = /^\d{4}(?:-(?:0[1-9]|1[0-2])(?:-(?:0[1-9]|[12]\d|3[01]))?)?$/;
const INSTANT =
  /^\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12]\d|3[01])T(?:[01]\d|2[0-3]):[0-5]\d:(?:[0-5]\d|60)(?:\.\d{1,9})?(?:Z|[+-](?:0\d|1[0-4]):[0-5]\d)$/;
/** Control characters and halves of surrogate pairs: no text, and no database takes them all. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const UNFIT = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]|\p{Cs}/u;

/** The day stands on the calendar, as far as one is given. */
function isOnCalendar(text: string): boolean {
  const [year = 0, month = 1, day = 1] = text.split('T', 1)[0]?.split('-').map(Number) ?? [];
  const date = new Date(0);
  date.setUTCFullYear(year, month - 1, day);
  return year > 0 && date.getUTCMonth() === month - 1;
}

function isText(value: unknown): value is string {
  return typeof value === 'string' && value.trim() !== '' && !UNFIT.test(value);
}

function matching(pattern: RegExp): (value: unknown) => boolean {
  return (value) => isText(value) && pattern.test(value);
}

/** Whether a JSON value is one of a primitive type (R4 datatypes, regular expressions of each type). */
const PRIMITIVES: Readonly<Record<string, (value: unknown) => boolean>> = {
  boolean: (value) => typeof value === 'boolean',
  integer: (value) => Number.isInteger(value) && Math.abs(Number(value)) < 2 ** 31,
  decimal: (value) => typeof value === 'number' && Number.isFinite(value),
  // What stands there is refused or read elsewhere, whatever its form.
  any: (value) => value !== null,
  positiveInt: (value) => Number.isInteger(value) && Number(value) > 0 && Number(value) < 2 ** 31,
  string: isText,
  // A bar ends the system in a token of a search: none is allowed in a URI (RFC 3986).
  uri: matching(/^[^\s|]+$/),
  canonical: matching(/^\S+$/),
  code: matching(/^\S+(?: \S+)*$/),
  id: matching(/^[A-Za-z0-9.-]{1,64}$/),
  date: (value) => isText(value) && DATE.test(value) && isOnCalendar(value),
  instant: (value) => isText(value) && INSTANT.test(value) && isOnCalendar(value),
  dateTime: (value) =>
    isText(value) && (DATE.test(value) || INSTANT.test(value)) && isOnCalendar(value),
};

/** Undefined: the type is not a primitive one. */
export function primitiveCheck(type: string): ((value: unknown) => boolean) | undefined {
  const codes = CODES[type];
  return codes === undefined
    ? PRIMITIVES[type]
    : (value) => typeof value === 'string' && codes.includes(value);
}

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
    valueReference: 'Reference',
    valueString: 'string',
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
