/**
 * The catalogue: one row a vital sign. The published schema, unit checks, code look-ups and the FHIR
 * rendering follow from the rows, so a sign is added or mended here and nowhere else.
 *
 * LOINC: the code that the FHIR R4 vital-signs table requires (R4 §10.1.19) comes first, a more
 * specific one second, then IEEE 11073-10101 (MDC). Displays are LOINC long common names as they stand
 * in FHIR R4, US Core 9.0.0 or the FHIR 6.0.0-ballot5 vital-sign value sets (expanded on LOINC 2.82);
 * a code whose name was not confirmed goes without. MDC numbers: IEEE 11073-10101 as in the term table
 * of the NIST device-communication tools, January 2025.
 */
import { loinc, mdc, type Coding } from './codes.js';
import type { CanonicalUnit, EnteredUnit, Method, Part, Site, Vital } from './words.js';

/**
 * How the value of a sign is given: one number; one number or a count over some seconds; the parts of
 * a pressure; a code. Any of them may be absent instead.
 */
export type ValueForm = 'number' | 'number-or-count' | 'pressure' | 'code';

/** A coding that goes beside the required one when method and site are among those named. */
export interface SpecificCoding {
  readonly coding: Coding;
  /** Absent: whatever the method. Null in the list: also when no method was told. */
  readonly methods?: readonly (Method | null)[];
  readonly sites?: readonly (Site | null)[];
}

export interface PartRow {
  readonly part: Part;
  readonly display: string;
  readonly codings: readonly Coding[];
  readonly specific: readonly SpecificCoding[];
}

export interface CatalogueRow {
  readonly display: string;
  /** Always there; the first is the one that the R4 profile requires. */
  readonly codings: readonly Coding[];
  readonly specific: readonly SpecificCoding[];
  readonly form: ValueForm;
  /** The numbers that a reading of this sign can carry. */
  readonly values: readonly Part[];
  /** Components, for a pressure only. */
  readonly parts: readonly PartRow[];
  /** Unit in which values are kept and published; null where the value is a code. */
  readonly unit: CanonicalUnit | null;
  /** The unit in words for people (`Quantity.unit`). */
  readonly unitText: string;
  readonly unitsTaken: readonly EnteredUnit[];
  readonly methodsTaken: readonly Method[];
  /** The cross-checks of this sign need to know how it was measured. */
  readonly methodRequired: boolean;
  readonly sitesTaken: readonly Site[];
  readonly profile: string;
  /** Null: US Core 9.0.0 has no profile that the sign meets. */
  readonly usCoreProfile: string | null;
}

const r4 = (id: string): string => `http://hl7.org/fhir/StructureDefinition/${id}`;
const usCore = (id: string): string => `http://hl7.org/fhir/us/core/StructureDefinition/${id}`;

const ARTERIES = ['radial-artery', 'brachial-artery', 'carotid-artery', 'femoral-artery'] as const;
const LIMBS = ['upper-arm', 'forearm', 'wrist', 'thigh', 'ankle'] as const;
const OXIMETRY_SITES = ['finger', 'toe', 'hand', 'foot', 'ear', 'forehead'] as const;
const BY_CUFF = ['auscultation', 'oscillometry'] as const;
const NON_INVASIVE = ['auscultation', 'oscillometry', 'palpation'] as const;

const RESPIRATORY_RATE: CatalogueRow = {
  display: 'Respiratory rate',
  codings: [loinc('9279-1', 'Respiratory rate')],
  specific: [
    { coding: mdc(151562, 'MDC_RESP_RATE'), methods: [null, 'counted', 'auscultation'] },
    { coding: mdc(151578, 'MDC_TTHOR_RESP_RATE'), methods: ['impedance'] },
    { coding: mdc(151594, 'MDC_CO2_RESP_RATE'), methods: ['capnography'] },
    { coding: mdc(151658, 'MDC_PULS_OXIM_PLETH_RESP_RATE'), methods: ['pulse-oximetry'] },
  ],
  form: 'number-or-count',
  values: ['value'],
  parts: [],
  unit: '/min',
  unitText: 'breaths/minute',
  unitsTaken: ['/min', '{breaths}/min'],
  methodsTaken: ['counted', 'auscultation', 'impedance', 'capnography', 'pulse-oximetry'],
  methodRequired: false,
  // Only an oximeter's rate has a place of its own.
  sitesTaken: OXIMETRY_SITES,
  profile: r4('resprate'),
  usCoreProfile: usCore('us-core-respiratory-rate'),
};

const PULSE_RATE: CatalogueRow = {
  display: 'Heart rate',
  codings: [loinc('8867-4', 'Heart rate')],
  specific: [
    {
      coding: loinc('8893-0', 'Heart rate Peripheral artery by palpation'),
      methods: ['palpation'],
      // Carotid and femoral pulses are called central in resuscitation: not coded as peripheral.
      sites: ['radial-artery', 'brachial-artery', 'wrist', 'forearm', 'upper-arm', 'ankle', 'foot'],
    },
    { coding: loinc('8891-4'), methods: ['palpation'], sites: ['apex'] },
    { coding: loinc('8890-6'), methods: ['auscultation'], sites: ['apex'] },
    { coding: loinc('8889-8', 'Heart rate by Pulse oximetry'), methods: ['pulse-oximetry'] },
    { coding: loinc('76477-9'), methods: ['oscillometry'] },
    {
      coding: loinc('60978-4', 'Heart rate Intra arterial line by Invasive'),
      methods: ['invasive'],
    },
    { coding: mdc(149562, 'MDC_PALPATION_HEART_RATE'), methods: ['palpation'] },
    { coding: mdc(149530, 'MDC_PULS_OXIM_PULS_RATE'), methods: ['pulse-oximetry'] },
    { coding: mdc(149546, 'MDC_PULS_RATE_NON_INV'), methods: ['oscillometry'] },
    { coding: mdc(147842, 'MDC_ECG_HEART_RATE'), methods: ['electrocardiography'] },
    { coding: mdc(149522, 'MDC_BLD_PULS_RATE_INV'), methods: ['invasive'] },
  ],
  form: 'number-or-count',
  values: ['value'],
  parts: [],
  unit: '/min',
  unitText: 'beats/minute',
  unitsTaken: ['/min', '{beats}/min'],
  methodsTaken: [
    'palpation',
    'auscultation',
    'pulse-oximetry',
    'oscillometry',
    'electrocardiography',
    'invasive',
  ],
  methodRequired: true,
  sitesTaken: [...ARTERIES, 'apex', ...LIMBS, ...OXIMETRY_SITES],
  profile: r4('heartrate'),
  usCoreProfile: usCore('us-core-heart-rate'),
};

/**
 * Both LOINC codes always: saturation as a vital sign is pulse oximetry (US Core requires the pair), and
 * the sign takes no other method. A saturation from a blood gas is a laboratory result.
 */
const OXYGEN_SATURATION: CatalogueRow = {
  display: 'Oxygen saturation',
  codings: [
    loinc('2708-6', 'Oxygen saturation in Arterial blood'),
    loinc('59408-5', 'Oxygen saturation in Arterial blood by Pulse oximetry'),
  ],
  specific: [{ coding: mdc(150456, 'MDC_PULS_OXIM_SAT_O2'), methods: ['pulse-oximetry'] }],
  form: 'number',
  values: ['value'],
  parts: [],
  unit: '%',
  unitText: '%',
  unitsTaken: ['%'],
  methodsTaken: ['pulse-oximetry'],
  methodRequired: false,
  sitesTaken: OXIMETRY_SITES,
  profile: r4('oxygensat'),
  usCoreProfile: usCore('us-core-pulse-oximetry'),
};

/** 8480-6 and 76534-7 stand on components only: as the code of an Observation they mean the panel. */
const PRESSURE_PARTS: readonly PartRow[] = [
  {
    part: 'systolic',
    display: 'Systolic blood pressure',
    codings: [loinc('8480-6', 'Systolic blood pressure')],
    specific: [
      { coding: loinc('76534-7', 'Systolic blood pressure by Noninvasive'), methods: BY_CUFF },
      { coding: loinc('8479-8', 'Systolic blood pressure by palpation'), methods: ['palpation'] },
      { coding: loinc('76215-3', 'Invasive Systolic blood pressure'), methods: ['invasive'] },
      { coding: mdc(150021, 'MDC_PRESS_BLD_NONINV_SYS'), methods: NON_INVASIVE },
      { coding: mdc(150033, 'MDC_PRESS_BLD_ART_SYS'), methods: ['invasive'] },
    ],
  },
  {
    part: 'diastolic',
    display: 'Diastolic blood pressure',
    codings: [loinc('8462-4', 'Diastolic blood pressure')],
    specific: [
      {
        coding: loinc('76535-4', 'Diastolic blood pressure by Noninvasive'),
        methods: NON_INVASIVE,
      },
      { coding: loinc('76213-8', 'Invasive Diastolic blood pressure'), methods: ['invasive'] },
      { coding: mdc(150022, 'MDC_PRESS_BLD_NONINV_DIA'), methods: NON_INVASIVE },
      { coding: mdc(150034, 'MDC_PRESS_BLD_ART_DIA'), methods: ['invasive'] },
    ],
  },
  {
    part: 'mean',
    display: 'Mean blood pressure',
    codings: [loinc('8478-0', 'Mean blood pressure')],
    specific: [
      { coding: mdc(150023, 'MDC_PRESS_BLD_NONINV_MEAN'), methods: NON_INVASIVE },
      { coding: mdc(150035, 'MDC_PRESS_BLD_ART_MEAN'), methods: ['invasive'] },
    ],
  },
];

const BLOOD_PRESSURE: CatalogueRow = {
  display: 'Blood pressure',
  codings: [loinc('85354-9', 'Blood pressure panel with all children optional')],
  specific: [{ coding: mdc(150020, 'MDC_PRESS_BLD_NONINV'), methods: NON_INVASIVE }],
  form: 'pressure',
  values: ['systolic', 'diastolic', 'mean'],
  parts: PRESSURE_PARTS,
  unit: 'mm[Hg]',
  unitText: 'mmHg',
  unitsTaken: ['mm[Hg]', 'kPa'],
  methodsTaken: ['auscultation', 'oscillometry', 'palpation', 'invasive'],
  methodRequired: true,
  sitesTaken: [...ARTERIES, ...LIMBS],
  profile: r4('bp'),
  usCoreProfile: usCore('us-core-blood-pressure'),
};

const BODY_TEMPERATURE: CatalogueRow = {
  display: 'Body temperature',
  codings: [loinc('8310-5', 'Body temperature')],
  specific: [
    { coding: loinc('8331-1', 'Oral temperature'), sites: ['oral'] },
    { coding: loinc('8333-7', 'Tympanic membrane temperature'), sites: ['tympanic'] },
    { coding: loinc('8328-7', 'Axillary temperature'), sites: ['axillary'] },
    { coding: loinc('8332-9', 'Rectal temperature'), sites: ['rectal'] },
    { coding: loinc('75539-7', 'Body temperature - Temporal artery'), sites: ['temporal'] },
    { coding: loinc('8329-5', 'Body temperature - Core'), sites: ['core'] },
    // No term was found for temporal artery or forehead; the nearest ones mean other places.
    { coding: mdc(150364, 'MDC_TEMP_BODY'), sites: [null] },
    { coding: mdc(188424, 'MDC_TEMP_ORAL'), sites: ['oral'] },
    { coding: mdc(150392, 'MDC_TEMP_TYMP'), sites: ['tympanic'] },
    { coding: mdc(188428, 'MDC_TEMP_EAR'), sites: ['ear'] },
    { coding: mdc(188452, 'MDC_TEMP_AXILLA'), sites: ['axillary'] },
    { coding: mdc(188420, 'MDC_TEMP_RECT'), sites: ['rectal'] },
    { coding: mdc(150368, 'MDC_TEMP_CORE'), sites: ['core'] },
  ],
  form: 'number',
  values: ['value'],
  parts: [],
  unit: 'Cel',
  unitText: '°C',
  unitsTaken: ['Cel', '[degF]'],
  methodsTaken: ['thermometry'],
  methodRequired: false,
  sitesTaken: ['oral', 'tympanic', 'axillary', 'rectal', 'temporal', 'core', 'forehead', 'ear'],
  profile: r4('bodytemp'),
  usCoreProfile: usCore('us-core-body-temperature'),
};

const BODY_HEIGHT: CatalogueRow = {
  display: 'Body height',
  codings: [loinc('8302-2', 'Body height')],
  specific: [{ coding: mdc(188740, 'MDC_LEN_BODY_ACTUAL') }],
  form: 'number',
  values: ['value'],
  parts: [],
  unit: 'cm',
  unitText: 'cm',
  unitsTaken: ['cm', 'm', '[in_i]'],
  methodsTaken: [],
  methodRequired: false,
  sitesTaken: [],
  profile: r4('bodyheight'),
  usCoreProfile: usCore('us-core-body-height'),
};

const BODY_WEIGHT: CatalogueRow = {
  display: 'Body weight',
  codings: [loinc('29463-7', 'Body weight')],
  specific: [{ coding: mdc(188736, 'MDC_MASS_BODY_ACTUAL') }],
  form: 'number',
  values: ['value'],
  parts: [],
  unit: 'kg',
  unitText: 'kg',
  unitsTaken: ['kg', 'g', '[lb_av]'],
  methodsTaken: [],
  methodRequired: false,
  sitesTaken: [],
  profile: r4('bodyweight'),
  usCoreProfile: usCore('us-core-body-weight'),
};

/** No MDC term was found for flow through mask or cannula: that of fresh gas is anaesthesia's. */
const OXYGEN_FLOW: CatalogueRow = {
  display: 'Inhaled oxygen flow rate',
  codings: [loinc('3151-8', 'Inhaled oxygen flow rate')],
  specific: [],
  form: 'number',
  values: ['value'],
  parts: [],
  unit: 'L/min',
  unitText: 'L/min',
  unitsTaken: ['L/min'],
  methodsTaken: [],
  methodRequired: false,
  sitesTaken: [],
  profile: r4('vitalsigns'),
  usCoreProfile: usCore('us-core-vital-signs'),
};

/** MDC tells a measured, a delivered and a set concentration apart; a set does not say which it is. */
const INSPIRED_OXYGEN: CatalogueRow = {
  display: 'Inhaled oxygen concentration',
  codings: [loinc('3150-0', 'Inhaled oxygen concentration')],
  specific: [],
  form: 'number',
  values: ['value'],
  parts: [],
  unit: '%',
  unitText: '%',
  unitsTaken: ['%'],
  methodsTaken: [],
  methodRequired: false,
  sitesTaken: [],
  profile: r4('vitalsigns'),
  usCoreProfile: usCore('us-core-vital-signs'),
};

/** The MDC scale has four steps and no confusion: it is another one. */
const CONSCIOUSNESS: CatalogueRow = {
  display: 'Level of consciousness',
  codings: [loinc('67775-7', 'Level of responsiveness')],
  specific: [],
  form: 'code',
  values: [],
  parts: [],
  unit: null,
  unitText: '',
  unitsTaken: [],
  methodsTaken: [],
  methodRequired: false,
  sitesTaken: [],
  profile: r4('vitalsigns'),
  usCoreProfile: null,
};

export const CATALOGUE: Readonly<Record<Vital, CatalogueRow>> = {
  'respiratory-rate': RESPIRATORY_RATE,
  'pulse-rate': PULSE_RATE,
  'oxygen-saturation': OXYGEN_SATURATION,
  'blood-pressure': BLOOD_PRESSURE,
  'body-temperature': BODY_TEMPERATURE,
  'body-height': BODY_HEIGHT,
  'body-weight': BODY_WEIGHT,
  'oxygen-flow': OXYGEN_FLOW,
  'inspired-oxygen': INSPIRED_OXYGEN,
  consciousness: CONSCIOUSNESS,
};

/** The codings of a sign or of one part of it: required, specific, MDC, in this order. */
export function codingsOf(
  row: Pick<CatalogueRow, 'codings' | 'specific'>,
  method: Method | null,
  site: Site | null,
): readonly Coding[] {
  const specific = row.specific.filter(
    ({ methods, sites }) =>
      (methods === undefined || methods.includes(method)) &&
      (sites === undefined || sites.includes(site)),
  );
  return [...row.codings, ...specific.map(({ coding }) => coding)];
}
