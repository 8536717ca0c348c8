import { findPlace } from '../../vitals/codes-body-sites.js';
import type { BodyPlace } from '../../vitals/codes.js';
import type { CodedSign } from '../../vitals/coded-sign.js';
import { CATALOGUE } from '../../vitals/catalogue.js';
import { codesOf } from './coded-field.js';
import type { Hl7Field } from './segment.js';

/** OBX-20 as it was told: places that are known, and the words of those that are not. */
export interface ToldPlaces {
  readonly places: readonly BodyPlace[];
  readonly unknown: readonly string[];
}

const MAX_PLACES = 8;
const MAX_WORDS = 80;

/** Reads OBX-20; null: it says nothing. */
export function readPlaces(field: Hl7Field): ToldPlaces | null {
  if (field.isEmpty) return null;
  const places: BodyPlace[] = [];
  const unknown: string[] = [];
  for (const repetition of field.repetitions.slice(0, MAX_PLACES)) {
    const codes = codesOf(repetition);
    const known = codes.map(findPlace).filter((place) => place !== undefined);
    const words = codes[0]?.name ?? codes[0]?.code;
    if (known.length > 0) places.push(...known);
    else if (words !== undefined) unknown.push(words.slice(0, MAX_WORDS));
  }
  return places.length + unknown.length === 0 ? null : { places, unknown };
}

/** Where a sign was measured, by its code and by OBX-20. */
export interface SignPlace extends BodyPlace {
  /** Code and place contradict each other, or the place decides how the value is judged and is not known. */
  readonly isUnclear: boolean;
  readonly note?: string;
}

/**
 * Joins what code and OBX-20 say. The code comes first; what the sign does not take stands in a note. A
 * temperature is judged by its place, so that a second or a strange one makes it doubtful: that of a
 * fingertip is not that of the body.
 */
export function joinPlaces(sign: CodedSign, told: ToldPlaces | null): SignPlace {
  if (told === null) return { ...placeOf(sign.site, sign.side), isUnclear: false };
  const sites = [...new Set(told.places.map((place) => place.site))].filter(
    (site) => site !== undefined,
  );
  const sides = new Set(
    told.places.map((place) => place.side).filter((side) => side !== undefined),
  );
  if (sign.side !== undefined) sides.add(sign.side);
  const taken = sites.filter((site) => CATALOGUE[sign.vital].sitesTaken.includes(site));
  const site = sign.site ?? taken[0];
  const others = sites.filter((other) => other !== site && !isPartOf(site, other));
  const words = [...others, ...told.unknown];
  const isStrange = others.length > 0 || (site === undefined && words.length > 0);
  const [side] = sides.size === 1 ? sides : [];
  return {
    ...placeOf(site, side),
    isUnclear: sides.size > 1 || (sign.vital === 'body-temperature' && isStrange),
    ...(words.length > 0 && { note: `Body site as sent: ${words.join(', ')}` }),
  };
}

/** The tympanic membrane is in the ear. */
function isPartOf(site: BodyPlace['site'], other: BodyPlace['site']): boolean {
  return site === 'tympanic' && other === 'ear';
}

function placeOf(site: BodyPlace['site'], side: BodyPlace['side']): BodyPlace {
  return { ...(site !== undefined && { site }), ...(side !== undefined && { side }) };
}
