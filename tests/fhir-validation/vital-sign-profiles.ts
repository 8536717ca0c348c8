/**
 * Constants of the vital-signs profiles, typed anew from the published standards and on purpose not
 * taken from the catalogue:
 * - R4: HL7 FHIR R4 4.0.1, page observation-vitalsigns §10.1.16–10.1.20 and the structure definitions
 *   vitalsigns, resprate, heartrate, oxygensat, bodytemp, bodyheight, bodyweight, bp, vitalspanel;
 * - US: HL7 US Core 9.0.0, structure definitions us-core-vital-signs and those derived from it;
 * - VAL: the code lists by which HL7's reference validator puts an Observation under an R4 profile,
 *   whatever `meta.profile` says (class ObservationValidator of org.hl7.fhir.core).
 */
const R4 = 'http://hl7.org/fhir/StructureDefinition/';
const US = 'http://hl7.org/fhir/us/core/StructureDefinition/';

export interface ProfileRules {
  /** LOINC codes of which `code.coding` must hold each exactly once. */
  readonly loinc: readonly string[];
  /** Fixed or required-binding unit codes of `valueQuantity`; none: a panel, without value of its own. */
  readonly units: readonly string[];
  /** LOINC codes of which exactly one component each must be there, with the one unit that is fixed. */
  readonly components?: Readonly<Record<string, string>>;
  /** `hasMember` 1..*. */
  readonly members?: true;
}

const PRESSURE: ProfileRules = {
  loinc: ['85354-9'],
  units: [],
  components: { '8480-6': 'mm[Hg]', '8462-4': 'mm[Hg]' },
};

/** Profiles that fix code and unit, R4 (4.0.1) and US Core (9.0.0). */
export const PROFILES: Readonly<Record<string, ProfileRules>> = {
  [`${R4}resprate`]: { loinc: ['9279-1'], units: ['/min'] },
  [`${R4}heartrate`]: { loinc: ['8867-4'], units: ['/min'] },
  [`${R4}oxygensat`]: { loinc: ['2708-6'], units: ['%'] },
  [`${R4}bodytemp`]: { loinc: ['8310-5'], units: ['Cel', '[degF]'] },
  [`${R4}bodyheight`]: { loinc: ['8302-2'], units: ['cm', '[in_i]'] },
  [`${R4}bodyweight`]: { loinc: ['29463-7'], units: ['kg', '[lb_av]', 'g'] },
  [`${R4}bp`]: PRESSURE,
  [`${R4}vitalspanel`]: { loinc: ['85353-1'], units: [], members: true },
  [`${US}us-core-respiratory-rate`]: { loinc: ['9279-1'], units: ['/min'] },
  [`${US}us-core-heart-rate`]: { loinc: ['8867-4'], units: ['/min'] },
  [`${US}us-core-pulse-oximetry`]: { loinc: ['59408-5', '2708-6'], units: ['%'] },
  [`${US}us-core-body-temperature`]: { loinc: ['8310-5'], units: ['Cel', '[degF]'] },
  [`${US}us-core-body-height`]: { loinc: ['8302-2'], units: ['cm', '[in_i]'] },
  [`${US}us-core-body-weight`]: { loinc: ['29463-7'], units: ['kg', '[lb_av]', 'g'] },
  [`${US}us-core-blood-pressure`]: PRESSURE,
};

/**
 * The base profiles; their rules are checked on every Observation, claimed or not. US Core's adds
 * must-support flags and extensible bindings to R4's, nothing that an instance could break.
 */
export const BASE_PROFILES: readonly string[] = [`${R4}vitalsigns`, `${US}us-core-vital-signs`];

/** VAL, as far as the signs of the gateway go: any of these codes brings the profile down on the resource. */
export const TRIGGERS: readonly (readonly [profile: string, loinc: string, snomed: string])[] = [
  [
    `${R4}resprate`,
    '9279-1 76170-0 76172-6 76171-8 19840-8 33438-3 76270-8 11291-2',
    '86290005 271625008 271306003',
  ],
  [
    `${R4}heartrate`,
    '8867-4 8889-8 8890-6 8891-4 8892-2 8893-0 8886-4 40443-4 55425-3 60978-4 68999-2 69000-8 ' +
      '73795-7 73799-9 76476-1 76477-9 11328-2',
    '249043002 444981005 399017001 251670001 429525003 429614003',
  ],
  [
    `${R4}oxygensat`,
    '2708-6 59408-5 20564-1 19224-5 2709-4 2710-2 2711-0 2713-6 51733-4 59417-6 89276-0 97549-0',
    '103228002 442349007 442476006 442440005 431314004 442734002 713194001',
  ],
  [
    `${R4}bodytemp`,
    '8310-5 8328-7 8329-5 8330-3 8331-1 8332-9 8333-7 8334-5 8309-7 60834-9 60835-6 60836-4 ' +
      '60838-0 60955-2 61009-7 75539-7 75987-8 76010-8 76011-6 76278-1 91371-5 98657-0 98663-8',
    '386725007 276885007 415882003 415945006 307047009 415974002',
  ],
  [
    `${R4}bp`,
    '85354-9 35094-2 55284-4 8480-6 8459-0 76534-7',
    '75367002 251076008 271649006 271650006 163033001 163035008 386534000 386536003 407554009 ' +
      '407556006 716579001 399304008',
  ],
  [`${R4}bodyheight`, '8302-2 3137-7 3138-5 8306-3 8308-9', ''],
  [`${R4}bodyweight`, '29463-7 3141-9 3142-7 75292-3 79348-9 8350-1 8351-9', ''],
  [`${R4}bmi`, '39156-5 59574-4 89270-3', ''],
  [`${R4}headcircum`, '9843-4 8287-5', ''],
  [`${R4}vitalspanel`, '85353-1', '46680005'],
];

/** R4 value set ucum-vitals-common: required for the value of any component (R4 vitalsigns). */
export const COMPONENT_UNITS: readonly string[] = [
  '%',
  'cm',
  '[in_i]',
  'kg',
  'g',
  '[lb_av]',
  'Cel',
  '[degF]',
  'mm[Hg]',
  '/min',
  'kg/m2',
  'm2',
];

/** R4 code system data-absent-reason. */
export const ABSENT_REASON_CODES: readonly string[] = [
  'unknown',
  'asked-unknown',
  'temp-unknown',
  'not-asked',
  'asked-declined',
  'masked',
  'not-applicable',
  'unsupported',
  'as-text',
  'error',
  'not-a-number',
  'negative-infinity',
  'positive-infinity',
  'not-performed',
  'not-permitted',
];

/** v3-ObservationInterpretation, group ObservationInterpretationNormality: at most one of them. */
export const NORMALITY_CODES: readonly string[] = [
  'N',
  'A',
  'AA',
  'H',
  'HU',
  'HH',
  'L',
  'LU',
  'LL',
];

/**
 * Code system measurement-status of the HL7 Point-of-Care Device guide (2026), which adds it to what R4
 * binds Observation.interpretation to (extensible): what ISO/IEEE 11073-10201 says of a measurement.
 */
export const MEASUREMENT_STATUS_CODES: readonly string[] = [
  'questionable',
  'calibration-ongoing',
  'validated-data',
  'early-indication',
  'msmt-ongoing',
  'in-alarm',
  'alarm-inhibited',
];

/** R4 vitalsigns and base Observation: resource types a reference may name. */
export const REFERENCE_TYPES: Readonly<
  Record<'performer' | 'device' | 'encounter' | 'derivedFrom' | 'hasMember', string[]>
> = {
  performer: [
    'Practitioner',
    'PractitionerRole',
    'Organization',
    'CareTeam',
    'Patient',
    'RelatedPerson',
  ],
  device: ['Device', 'DeviceMetric'],
  encounter: ['Encounter'],
  // Observation: of the profile vitalsigns.
  derivedFrom: [
    'DocumentReference',
    'ImagingStudy',
    'Media',
    'QuestionnaireResponse',
    'MolecularSequence',
    'Observation',
  ],
  hasMember: ['QuestionnaireResponse', 'MolecularSequence', 'Observation'],
};
