/**
 * The codes of what the devices measure, written down here a second time: a simulator that asked the
 * gateway's own tables would never find a fault in them. MDC numbers and reference ids: IEEE 11073-10101
 * as in the term table of the NIST device-communication tools, January 2025; LOINC: FHIR R4 vital signs.
 */
import type { IncomingReading } from '../../vitals/shapes.js';
import type { Part } from '../../vitals/words.js';

export interface Coded {
  readonly mdc: number;
  /** The reference id. */
  readonly name: string;
  readonly loinc: readonly string[];
}

export interface CodedUnit {
  readonly mdc: number;
  readonly name: string;
  readonly ucum: string;
  readonly words: string;
}

const coded = (mdc: number, name: string, ...loinc: readonly string[]): Coded => ({
  mdc,
  name: `MDC_${name}`,
  loinc,
});
const unit = (mdc: number, name: string, ucum: string, words: string): CodedUnit => ({
  mdc,
  name: `MDC_DIM_${name}`,
  ucum,
  words,
});

/** By sign, and by what tells its kinds apart: method, of a temperature the site, of a pressure the part. */
const SIGNS: Readonly<Record<string, Coded>> = {
  'pulse-rate electrocardiography': coded(147842, 'ECG_HEART_RATE', '8867-4'),
  'pulse-rate pulse-oximetry': coded(149530, 'PULS_OXIM_PULS_RATE', '8867-4', '8889-8'),
  'pulse-rate oscillometry': coded(149546, 'PULS_RATE_NON_INV', '8867-4'),
  'respiratory-rate impedance': coded(151578, 'TTHOR_RESP_RATE', '9279-1'),
  'oxygen-saturation pulse-oximetry': coded(150456, 'PULS_OXIM_SAT_O2', '2708-6', '59408-5'),
  'body-temperature oral': coded(188424, 'TEMP_ORAL', '8310-5', '8331-1'),
  'body-temperature axillary': coded(188452, 'TEMP_AXILLA', '8310-5', '8328-7'),
  'body-temperature tympanic': coded(150392, 'TEMP_TYMP', '8310-5', '8333-7'),
  'blood-pressure': coded(150020, 'PRESS_BLD_NONINV', '85354-9'),
  'blood-pressure systolic': coded(150021, 'PRESS_BLD_NONINV_SYS', '8480-6'),
  'blood-pressure diastolic': coded(150022, 'PRESS_BLD_NONINV_DIA', '8462-4'),
  'blood-pressure mean': coded(150023, 'PRESS_BLD_NONINV_MEAN', '8478-0'),
};

export const PERFUSION = coded(150488, 'BLD_PERF_INDEX');

const PERCENT = unit(262688, 'PERCENT', '%', '%');
const UNITS: Readonly<Record<string, CodedUnit>> = {
  'pulse-rate /min': unit(264864, 'BEAT_PER_MIN', '/min', 'beats/minute'),
  'respiratory-rate /min': unit(264928, 'RESP_PER_MIN', '/min', 'breaths/minute'),
  'oxygen-saturation %': PERCENT,
  'blood-pressure mm[Hg]': unit(266016, 'MMHG', 'mm[Hg]', 'mmHg'),
  'body-temperature Cel': unit(268192, 'DEGC', 'Cel', '°C'),
  'body-temperature [degF]': unit(266560, 'FAHR', '[degF]', '°F'),
};
export const PERFUSION_UNIT = PERCENT;

/** Where on the body: MDC with its reference id, and SNOMED CT as in the FHIR vital-sign guides. */
interface CodedSite {
  readonly mdc: number;
  readonly name: string;
  readonly snomed: string;
  readonly words: string;
}

const SITES: Readonly<Record<string, CodedSite>> = {
  finger: { mdc: 460500, name: 'MDC_UPEXT_FINGER', snomed: '7569003', words: 'Finger' },
  'upper-arm left': {
    mdc: 460533,
    name: 'MDC_UPEXT_ARM_UPPER_L',
    snomed: '368208006',
    words: 'Left upper arm',
  },
};

/** Devices and their parts. */
export const DEVICE_TYPES = {
  monitor: coded(69965, 'DEV_MON_PHYSIO_MULTI_PARAM_MDS'),
  oximeter: coded(528388, 'DEV_SPEC_PROFILE_PULS_OXIM'),
  cuff: coded(528391, 'DEV_SPEC_PROFILE_BP'),
  thermometer: coded(528392, 'DEV_SPEC_PROFILE_TEMP'),
} as const;

/** A module of the monitor and its channel. */
export interface MonitorModule {
  readonly module: Coded;
  readonly channel: Coded;
  readonly has: (reading: IncomingReading) => boolean;
}

export const MONITOR_MODULES: readonly MonitorModule[] = [
  {
    module: coded(69798, 'DEV_ECG_VMD'),
    channel: coded(69799, 'DEV_ECG_CHAN'),
    has: ({ method }) => method === 'electrocardiography' || method === 'impedance',
  },
  {
    module: coded(69642, 'DEV_ANALY_SAT_O2_VMD'),
    channel: coded(69643, 'DEV_ANALY_SAT_O2_CHAN'),
    has: ({ method }) => method === 'pulse-oximetry',
  },
  {
    module: coded(70686, 'DEV_PRESS_BLD_NONINV_VMD'),
    channel: coded(70687, 'DEV_PRESS_BLD_NONINV_CHAN'),
    has: ({ method }) => method === 'oscillometry',
  },
];

/** @param part of a pressure; absent: the reading as a whole */
export function codeOf({ vital, method, site }: IncomingReading, part?: Part): Coded {
  const kind =
    vital === 'blood-pressure' ? part : vital === 'body-temperature' ? site : (method ?? site);
  return found(SIGNS, kind === undefined ? vital : `${vital} ${kind}`);
}

export function unitOf({ vital, unit: ucum }: IncomingReading): CodedUnit {
  return found(UNITS, `${vital} ${ucum ?? ''}`);
}

/** Null: none was told, or the code says it already, or there is none that a receiver would know. */
export function siteOf({ site, side }: IncomingReading): CodedSite | null {
  return SITES[side === undefined ? (site ?? '') : `${site ?? ''} ${side}`] ?? null;
}

/** CWE of HL7 v2. */
export function mdcTriplet({ mdc, name }: Pick<Coded, 'mdc' | 'name'>): string {
  return `${mdc}^${name}^MDC`;
}

function found<T>(table: Readonly<Record<string, T>>, key: string): T {
  const row = table[key];
  if (row === undefined) throw new RangeError(`the simulator has no code for ${key}`);
  return row;
}

/** The numbers of a reading with the part that each is; `value` stands alone. */
export function numbersOf(
  reading: IncomingReading,
): readonly { readonly part: Part; readonly text: string }[] {
  return (['value', 'systolic', 'diastolic', 'mean'] as const).flatMap((part) => {
    const number = reading[part];
    return number === undefined ? [] : [{ part, text: String(number) }];
  });
}
