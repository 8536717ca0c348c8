/**
 * Places on the body as messages code them. MDC: IEEE 11073-10101, NIST term table, January 2025, where
 * the number after a place is its left side and the one after that its right. HL70163: HL7 v2 table 0163.
 * SNOMED CT: the codes that the gateway publishes.
 */
import { readCodeSystem, readMdcNumber } from './code-systems.js';
import type { SentCode } from './coded-sign.js';
import { placeOfSnomed, type BodyPlace } from './codes.js';
import type { Site } from './words.js';

const MDC_PLACES: readonly (readonly [number, string, Site])[] = [
  [460204, 'MDC_ART_BRACHIAL', 'brachial-artery'],
  [460212, 'MDC_ART_FEMORAL', 'femoral-artery'],
  [460220, 'MDC_ART_RADIAL', 'radial-artery'],
  [460532, 'MDC_UPEXT_ARM_UPPER', 'upper-arm'],
  [460520, 'MDC_UPEXT_FOREARM', 'forearm'],
  [460536, 'MDC_UPEXT_WRIST', 'wrist'],
  [460524, 'MDC_UPEXT_HAND', 'hand'],
  [460500, 'MDC_UPEXT_FINGER', 'finger'],
  [460504, 'MDC_UPEXT_FINGER_INDEX', 'finger'],
  [460508, 'MDC_UPEXT_FINGER_LITTLE', 'finger'],
  [460512, 'MDC_UPEXT_FINGER_MIDDLE', 'finger'],
  [460516, 'MDC_UPEXT_FINGER_RING', 'finger'],
  [460528, 'MDC_UPEXT_THUMB', 'finger'],
  [460492, 'MDC_UPEXT_AXILLA', 'axillary'],
  [460364, 'MDC_LOEXT_THIGH', 'thigh'],
  [460336, 'MDC_LOEXT_ANKLE', 'ankle'],
  [460340, 'MDC_LOEXT_FOOT', 'foot'],
  [460368, 'MDC_LOEXT_TOE', 'toe'],
  [460372, 'MDC_LOEXT_TOE_GREAT', 'toe'],
  [460376, 'MDC_LOEXT_TOE_SECOND', 'toe'],
  [460380, 'MDC_LOEXT_TOE_THIRD', 'toe'],
  [460384, 'MDC_LOEXT_TOE_FOURTH', 'toe'],
  [460388, 'MDC_LOEXT_TOE_FIFTH', 'toe'],
  [460272, 'MDC_HEAD_EAR', 'ear'],
  [460868, 'MDC_HEAD_TYMPANIC', 'tympanic'],
  [460292, 'MDC_HEAD_MOUTH', 'oral'],
  [460320, 'MDC_HEAD_TEMPOR_REGION', 'temporal'],
  [460852, 'MDC_TRUNK_RECTUM', 'rectal'],
  // Inside the trunk: the core, for a temperature.
  [460300, 'MDC_HEAD_NASOPHARYNX', 'core'],
  [460412, 'MDC_TRUNK_BLADDER', 'core'],
  [460444, 'MDC_TRUNK_ESOPH', 'core'],
];

type MdcPlace = BodyPlace & { readonly name: string; readonly site: Site };

const BY_MDC = new Map<number, MdcPlace>(
  MDC_PLACES.flatMap(([code, name, site]): [number, MdcPlace][] => [
    [code, { name, site }],
    [code + 1, { name: `${name}_L`, site, side: 'left' }],
    [code + 2, { name: `${name}_R`, site, side: 'right' }],
  ]),
);

/** "Left arm" leaves open where on the arm. */
const BY_TABLE_0163: ReadonlyMap<string, BodyPlace> = new Map<string, BodyPlace>([
  ['LA', { side: 'left' }],
  ['RA', { side: 'right' }],
  ['LUA', { site: 'upper-arm', side: 'left' }],
  ['RUA', { site: 'upper-arm', side: 'right' }],
  ['LUFA', { site: 'forearm', side: 'left' }],
  ['RUFA', { site: 'forearm', side: 'right' }],
  ['LMFA', { site: 'forearm', side: 'left' }],
  ['RMFA', { site: 'forearm', side: 'right' }],
  ['LLFA', { site: 'forearm', side: 'left' }],
  ['RLFA', { site: 'forearm', side: 'right' }],
  ['LT', { site: 'thigh', side: 'left' }],
  ['RT', { site: 'thigh', side: 'right' }],
  ['LH', { site: 'hand', side: 'left' }],
  ['RH', { site: 'hand', side: 'right' }],
  ['LF', { site: 'foot', side: 'left' }],
  ['RF', { site: 'foot', side: 'right' }],
  ['LE', { site: 'ear', side: 'left' }],
  ['RE', { site: 'ear', side: 'right' }],
  ['BE', { site: 'ear' }],
]);

/** The place that a code stands for; undefined: not one of the catalogue's, or contradicted by its name. */
export function findPlace({ system, code = '', name }: SentCode): BodyPlace | undefined {
  const known = readCodeSystem(system);
  if (known === 'SCT') return placeOfSnomed(code);
  if (known === 'HL70163') return BY_TABLE_0163.get(code);
  const place = known === 'MDC' ? BY_MDC.get(readMdcNumber(code) ?? 0) : undefined;
  if (place === undefined || (name !== undefined && name !== place.name)) return undefined;
  return { site: place.site, ...(place.side !== undefined && { side: place.side }) };
}
