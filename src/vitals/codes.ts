import {
  CONSCIOUSNESS_CODES,
  SITES,
  type ConsciousnessCode,
  type Method,
  type Position,
  type Side,
  type Site,
  type Vital,
} from './words.js';

/** One code of a code system, as a FHIR Coding carries it. */
export interface Coding {
  readonly system: string;
  readonly code: string;
  readonly display?: string;
}

/** Words for a person, and a code beside them where a published value set confirms one. */
export interface Concept {
  readonly coding?: readonly Coding[];
  readonly text: string;
}

export const LOINC_SYSTEM = 'http://loinc.org';
export const SNOMED_SYSTEM = 'http://snomed.info/sct';
/** IEEE 11073-10101; codes are 32-bit decimal numbers, the display is the reference id (HL7 PHD guide). */
export const MDC_SYSTEM = 'urn:iso:std:iso:11073:10101';

export function loinc(code: string, display?: string): Coding {
  return display === undefined
    ? { system: LOINC_SYSTEM, code }
    : { system: LOINC_SYSTEM, code, display };
}

export function mdc(code: number, referenceId: string): Coding {
  return { system: MDC_SYSTEM, code: String(code), display: referenceId };
}

/**
 * SNOMED CT codes go out without a display: which description of a concept is the preferred one
 * differs between national editions, and `text` says what is meant.
 */
function snomed(text: string, code?: string): Concept {
  return code === undefined ? { text } : { coding: [{ system: SNOMED_SYSTEM, code }], text };
}

/**
 * Codes: HL7 "Vital Signs with Qualifying Elements" value sets bpMeasMethodVS, heartRateMeasMethodVS
 * and respiratoryRateMeasMethodVS (2.0.0 draft, 2024). Breaths counted by looking are an inspection.
 * No code was found for impedance pneumography, capnography or thermometry as methods.
 */
const METHOD_CONCEPTS: Readonly<Record<Method, Concept>> = {
  counted: snomed('Counted by looking', '32750006'),
  palpation: snomed('Palpation', '113011001'),
  auscultation: snomed('Auscultation', '37931006'),
  'pulse-oximetry': snomed('Pulse oximetry', '264598005'),
  oscillometry: snomed('Oscillometry (automatic cuff)', '31813000'),
  electrocardiography: snomed('Electrocardiography', '29303009'),
  impedance: snomed('Thoracic impedance'),
  capnography: snomed('Capnography'),
  thermometry: snomed('Thermometer'),
  invasive: snomed('Invasive arterial line', '77938009'),
};

/** A site and its laterality: the code of the side where one is confirmed, else that of the site. */
interface SiteRow {
  readonly text: string;
  readonly code?: string;
  readonly left?: string;
  readonly right?: string;
}

/**
 * Codes: the body location value sets of the same HL7 guide for pulse, pressure, saturation and
 * temperature; FHIR R4 examples (upper arm, wrist); UK Core (upper arm, artery); HL7 Norway
 * no-domain vital signs 2025 (left and right carotid, thigh, ankle). A site without code had none there.
 */
const SITE_ROWS: Readonly<Record<Site, SiteRow>> = {
  'radial-artery': {
    text: 'radial artery',
    code: '45631007',
    left: '368504007',
    right: '368503001',
  },
  'brachial-artery': {
    text: 'brachial artery',
    code: '17137000',
    left: '723961002',
    right: '723962009',
  },
  'carotid-artery': { text: 'carotid artery', left: '721028001', right: '721033002' },
  'femoral-artery': {
    text: 'femoral artery',
    code: '7657000',
    left: '113270003',
    right: '69833005',
  },
  apex: { text: 'apex of the heart', code: '13383001' },
  'upper-arm': { text: 'upper arm', code: '40983000', left: '368208006', right: '368209003' },
  forearm: { text: 'forearm' },
  wrist: { text: 'wrist', code: '8205005', left: '5951000', right: '9736006' },
  thigh: { text: 'thigh', left: '61396006', right: '11207009' },
  ankle: { text: 'ankle', left: '51636004', right: '6685009' },
  finger: { text: 'finger', code: '7569003' },
  toe: { text: 'toe', code: '29707007' },
  hand: { text: 'hand' },
  foot: { text: 'foot' },
  ear: { text: 'ear lobe', code: '48800003' },
  forehead: { text: 'forehead', code: '52795006' },
  oral: { text: 'mouth', code: '74262004' },
  tympanic: { text: 'tympanic membrane', code: '42859004' },
  axillary: { text: 'armpit', code: '422543003' },
  rectal: { text: 'rectum', code: '34402009' },
  temporal: { text: 'temporal artery', code: '15672000' },
  core: { text: 'body core' },
};

/** A thermometer goes into the ear, an oximeter onto its lobe. */
const EAR_OF_THERMOMETRY: SiteRow = { text: 'ear', code: '117590005' };

/** A place on the body as a code tells it: either may be left open. */
export interface BodyPlace {
  readonly site?: Site;
  readonly side?: Side;
}

const PLACES_BY_SNOMED: ReadonlyMap<string, BodyPlace> = new Map(
  [
    ...SITES.map((site) => [site, SITE_ROWS[site]] as const),
    ['ear', EAR_OF_THERMOMETRY] as const,
  ].flatMap(([site, row]) => placesOf(site, row)),
);

function placesOf(site: Site, { code, left, right }: SiteRow): [string, BodyPlace][] {
  const places: [string, BodyPlace][] = [];
  if (code !== undefined) places.push([code, { site }]);
  if (left !== undefined) places.push([left, { site, side: 'left' }]);
  if (right !== undefined) places.push([right, { site, side: 'right' }]);
  return places;
}

/** The place that a SNOMED CT code of the tables above stands for. */
export function placeOfSnomed(code: string): BodyPlace | undefined {
  return PLACES_BY_SNOMED.get(code);
}

/** The level of consciousness that a SNOMED CT code of the table below stands for. */
export function consciousnessOfSnomed(code: string): ConsciousnessCode | undefined {
  return CONSCIOUSNESS_CODES.find((word) =>
    CONSCIOUSNESS_CONCEPTS[word].coding?.some((coding) => coding.code === code),
  );
}

/**
 * Codes: value set bodyPositionVS of the same HL7 guide. None for semi-recumbent: Fowler's position is
 * a steeper one with a fixed angle, and recumbent a flatter one.
 */
const POSITION_CONCEPTS: Readonly<Record<Position, Concept>> = {
  sitting: snomed('Sitting', '33586001'),
  standing: snomed('Standing', '10904000'),
  supine: snomed('Supine', '40199007'),
  'semi-recumbent': snomed('Semi-recumbent'),
  prone: snomed('Prone', '1240000'),
};

/** Codes: UK Core value set ACVPU (R4 assets, 2025). */
const CONSCIOUSNESS_CONCEPTS: Readonly<Record<ConsciousnessCode, Concept>> = {
  alert: snomed('Alert', '248234008'),
  confusion: snomed('New confusion', '130987000'),
  voice: snomed('Responds to voice', '300202002'),
  pain: snomed('Responds to pain', '450847001'),
  unresponsive: snomed('Unresponsive', '422768004'),
};

export function methodConcept(method: Method): Concept {
  return METHOD_CONCEPTS[method];
}

export function positionConcept(position: Position): Concept {
  return POSITION_CONCEPTS[position];
}

export function consciousnessConcept(code: ConsciousnessCode): Concept {
  return CONSCIOUSNESS_CONCEPTS[code];
}

/**
 * Where on the body. A side that has no code of its own still stands in the text, beside the code of
 * the site. Null when neither was told; a side alone is words only.
 */
export function siteConcept(vital: Vital, site: Site | null, side: Side | null): Concept | null {
  if (site === null) return side === null ? null : { text: capitalised(`${side} side`) };
  const row = site === 'ear' && vital === 'body-temperature' ? EAR_OF_THERMOMETRY : SITE_ROWS[site];
  const code = (side === null ? undefined : row[side]) ?? row.code;
  return snomed(capitalised(side === null ? row.text : `${side} ${row.text}`), code);
}

function capitalised(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
