/** Coded elements in the gateway's own words: method, place on the body, position, consciousness. */
import type { CodeableConcept, Coding } from 'fhir/r4.js';
import type { SentCode } from '../../vitals/coded-sign.js';
import { findPlace } from '../../vitals/codes-body-sites.js';
import {
  SNOMED_SYSTEM,
  consciousnessOfSnomed,
  methodConcept,
  positionConcept,
  siteConcept,
  type BodyPlace,
  type Concept,
} from '../../vitals/codes.js';
import {
  METHODS,
  POSITIONS,
  SIDES,
  SITES,
  type ConsciousnessCode,
  type Method,
  type Position,
  type Vital,
} from '../../vitals/words.js';

/** The codings of a concept as the code tables take them: a display counts only as an MDC reference id. */
export function sentCodes({ coding = [] }: CodeableConcept): SentCode[] {
  return coding.map(sentCode);
}

function sentCode({ system, code, display }: Coding): SentCode {
  return {
    ...(system !== undefined && { system }),
    ...(code !== undefined && { code }),
    ...(display?.startsWith('MDC_') === true && { name: display }),
  };
}

function snomedCodes({ coding = [] }: CodeableConcept): string[] {
  return coding.flatMap(({ system, code }) =>
    system === SNOMED_SYSTEM && code !== undefined ? [code] : [],
  );
}

/** Equal words, as the gateway itself writes them where it has no code. */
function sameText(text: string | undefined, concept: Concept): boolean {
  return text?.trim().toLowerCase() === concept.text.toLowerCase();
}

/** The one of the words whose concept was sent: by its code, else by its text. */
function findWord<Word>(
  sent: CodeableConcept,
  words: readonly Word[],
  conceptOf: (word: Word) => Concept,
): Word | undefined {
  const codes = snomedCodes(sent);
  return (
    words.find((word) => conceptOf(word).coding?.some(({ code }) => codes.includes(code))) ??
    words.find((word) => sameText(sent.text, conceptOf(word)))
  );
}

export function readMethod(sent: CodeableConcept): Method | undefined {
  return findWord(sent, METHODS, methodConcept);
}

export function readPosition(sent: CodeableConcept): Position | undefined {
  return findWord(sent, POSITIONS, positionConcept);
}

export function readConsciousness(sent: CodeableConcept): ConsciousnessCode | undefined {
  return snomedCodes(sent)
    .map(consciousnessOfSnomed)
    .find((word) => word !== undefined);
}

/** Every place in the words of the gateway, for a text whose code tells less than it does. */
const PLACES: readonly BodyPlace[] = [undefined, ...SITES].flatMap((site) =>
  [undefined, ...SIDES].map((side) => ({
    ...(site !== undefined && { site }),
    ...(side !== undefined && { side }),
  })),
);

function agree(one: BodyPlace, other: BodyPlace): boolean {
  const sites = one.site === undefined || other.site === undefined || one.site === other.site;
  const sides = one.side === undefined || other.side === undefined || one.side === other.side;
  return sites && sides;
}

/**
 * A place on the body. A text in the gateway's own words may say more than its code (the code of a finger
 * knows no side); undefined: nothing of it is known; `clear` false: its codes contradict each other.
 */
export function readPlace(
  vital: Vital,
  sent: CodeableConcept,
): { readonly place: BodyPlace; readonly clear: boolean } | undefined {
  const written = PLACES.find(({ site = null, side = null }) => {
    const concept = siteConcept(vital, site, side);
    return concept !== null && sameText(sent.text, concept);
  });
  const coded = sentCodes(sent).flatMap((code) => findPlace(code) ?? []);
  const told = written === undefined ? coded : [...coded, written];
  const [first] = told;
  if (first === undefined) return undefined;
  const place = told.reduce((known, one) => ({ ...one, ...known }), first);
  return { place, clear: told.every((one) => agree(one, place)) };
}
