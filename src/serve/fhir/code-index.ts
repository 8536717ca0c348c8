import type { ObservationKind, ReadingKind } from '../../store/observation-conditions.js';
import { CATALOGUE, codingsOf } from '../../vitals/catalogue.js';
import type { CatalogueRow } from '../../vitals/catalogue.js';
import type { Coding } from '../../vitals/codes.js';
import { DERIVED_CATALOGUE } from '../../vitals/derived-catalogue.js';
import { DERIVED_KINDS, METHODS, SITES, VITALS } from '../../vitals/words.js';
import type { Part, Vital } from '../../vitals/words.js';
import { matchesToken } from './token-values.js';
import type { Token } from './token-values.js';

/**
 * Which readings carry a code, found by asking the catalogue for every combination of sign, method
 * and site what it will be rendered with: search and rendering cannot come to differ.
 */
interface IndexEntry {
  readonly coding: Coding;
  readonly kinds: ObservationKind[];
}

type Codes = Pick<CatalogueRow, 'codings' | 'specific'>;

const ANY_METHOD = [null, ...METHODS];
const ANY_SITE = [null, ...SITES];

function keyOf({ system, code }: Coding): string {
  return `${system}|${code}`;
}

/** The combinations that carry each code, as blocks of methods with the same sites. */
function addKinds(
  index: Map<string, IndexEntry>,
  vital: Vital,
  codes: Codes,
  part: Part | null,
): void {
  const codings = [...codes.codings, ...codes.specific.map(({ coding }) => coding)];
  for (const coding of codings) {
    const key = keyOf(coding);
    const entry = index.get(key) ?? { coding, kinds: [] };
    index.set(key, entry);
    const blocks = new Map<string, ReadingKind>();
    for (const method of ANY_METHOD) {
      const sites = ANY_SITE.filter((site) =>
        codingsOf(codes, method, site).some((one) => keyOf(one) === key),
      );
      if (sites.length === 0) continue;
      const block = blocks.get(sites.join());
      const methods = [...(block?.methods ?? []), method];
      blocks.set(sites.join(), { vital, methods, sites, part });
    }
    entry.kinds.push(...[...blocks.values()].map(withoutFullLists));
  }
}

function withoutFullLists(kind: ReadingKind): ReadingKind {
  return {
    ...kind,
    methods: kind.methods?.length === ANY_METHOD.length ? null : kind.methods,
    sites: kind.sites?.length === ANY_SITE.length ? null : kind.sites,
  };
}

/** Systolic and diastolic stand in every pressure, a mean only where it was measured. */
function partOf(part: Part): Part | null {
  return part === 'mean' ? part : null;
}

function buildIndex(withComponents: boolean): readonly IndexEntry[] {
  const index = new Map<string, IndexEntry>();
  for (const vital of VITALS) {
    const row = CATALOGUE[vital];
    addKinds(index, vital, row, null);
    if (withComponents) {
      for (const part of row.parts) addKinds(index, vital, part, partOf(part.part));
    }
  }
  for (const derived of DERIVED_KINDS) {
    for (const coding of DERIVED_CATALOGUE[derived].codings) {
      const entry = index.get(keyOf(coding)) ?? { coding, kinds: [] };
      index.set(keyOf(coding), entry);
      entry.kinds.push({ derived });
    }
  }
  return [...index.values()];
}

const CODES = buildIndex(false);
const COMBO_CODES = buildIndex(true);

function kindsIn(index: readonly IndexEntry[], tokens: readonly Token[]): ObservationKind[] {
  return index
    .filter(({ coding }) => tokens.some((token) => matchesToken(token, coding)))
    .flatMap(({ kinds }) => kinds);
}

/** What Observations have one of these codes as their own. */
export function kindsWithCode(tokens: readonly Token[]): ObservationKind[] {
  return kindsIn(CODES, tokens);
}

/** What Observations, or components of them, have one of these codes. */
export function kindsWithComboCode(tokens: readonly Token[]): ObservationKind[] {
  return kindsIn(COMBO_CODES, tokens);
}
