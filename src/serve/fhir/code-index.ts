import type {
  ObservationKind,
  ReadingKind,
  ValueDemand,
} from '../../store/observation-conditions.js';
import type { Where } from '../../store/value-conditions.js';
import { CATALOGUE, codingsOf } from '../../vitals/catalogue.js';
import type { CatalogueRow } from '../../vitals/catalogue.js';
import type { Coding } from '../../vitals/codes.js';
import { DERIVED_CATALOGUE } from '../../vitals/derived-catalogue.js';
import { PANEL_CODING } from '../../vitals/panel.js';
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

interface Scope {
  readonly own: boolean;
  readonly components: boolean;
}

function buildIndex({ own, components }: Scope): readonly IndexEntry[] {
  const index = new Map<string, IndexEntry>();
  for (const vital of VITALS) {
    const row = CATALOGUE[vital];
    if (own) addKinds(index, vital, row, null);
    if (components) {
      for (const part of row.parts) addKinds(index, vital, part, part.part);
    }
  }
  if (own) {
    for (const derived of DERIVED_KINDS) {
      addKind(index, DERIVED_CATALOGUE[derived].codings, { derived });
    }
    addKind(index, [PANEL_CODING], { panel: true });
  }
  return [...index.values()];
}

function addKind(
  index: Map<string, IndexEntry>,
  codings: readonly Coding[],
  kind: ObservationKind,
): void {
  for (const coding of codings) {
    const entry = index.get(keyOf(coding)) ?? { coding, kinds: [] };
    index.set(keyOf(coding), entry);
    entry.kinds.push(kind);
  }
}

const CODES = buildIndex({ own: true, components: false });
const COMPONENT_CODES = buildIndex({ own: false, components: true });
const COMBO_CODES = buildIndex({ own: true, components: true });

function kindsIn(index: readonly IndexEntry[], tokens: readonly Token[]): ObservationKind[] {
  return index
    .filter(({ coding }) => tokens.some((token) => matchesToken(token, coding)))
    .flatMap(({ kinds }) => kinds);
}

/** Systolic and diastolic stand in every pressure, with a value or without, a mean only where it was measured. */
function whereverShown(kind: ObservationKind): ObservationKind {
  return 'vital' in kind && kind.part !== 'mean' ? { ...kind, part: null } : kind;
}

/** What Observations have one of these codes as their own. */
export function kindsWithCode(tokens: readonly Token[]): ObservationKind[] {
  return kindsIn(CODES, tokens);
}

/** What Observations have components with one of these codes. */
export function kindsWithComponentCode(tokens: readonly Token[]): ObservationKind[] {
  return kindsIn(COMPONENT_CODES, tokens).map(whereverShown);
}

/** What Observations, or components of them, have one of these codes. */
export function kindsWithComboCode(tokens: readonly Token[]): ObservationKind[] {
  return kindsIn(COMBO_CODES, tokens).map(whereverShown);
}

/** A number that an Observation or a component can have as its value: which it is, and in what unit. */
export interface ValueKind {
  readonly of: ValueDemand['of'];
  readonly row: Pick<CatalogueRow, 'unit' | 'unitText'>;
}

function valueKinds(kind: ObservationKind): ValueKind[] {
  if ('panel' in kind) return [];
  if ('derived' in kind) return [{ of: kind, row: CATALOGUE['blood-pressure'] }];
  const row = CATALOGUE[kind.vital];
  // A pressure has no value of its own, and a code is no number.
  const part = kind.part ?? (row.parts.length === 0 && row.unit !== null ? 'value' : null);
  return part === null ? [] : [{ of: { ...kind, part }, row }];
}

const INDEXES = { own: CODES, component: COMPONENT_CODES, any: COMBO_CODES } as const;

/** The numbers that stand beside one of these codes, in the Observation itself, in components, or in either. */
export function valuesWithCode(where: Where, tokens: readonly Token[]): ValueKind[] {
  return kindsIn(INDEXES[where], tokens).flatMap(valueKinds);
}

/** Numbers that belong together under one code, wherever and however they were measured. */
export interface NumberGroup {
  readonly coding: Coding;
  readonly display: string;
  readonly part: Part;
  readonly row: ValueKind['row'];
  /** What shows them, with a value or without. */
  readonly kinds: readonly ObservationKind[];
}

/** The groups of numbers that a code stands for: one, or each part of a pressure for a code of the whole. */
export function partsWithCode(token: Token): NumberGroup[] {
  return COMBO_CODES.filter(({ coding }) => matchesToken(token, coding)).flatMap((entry) => {
    const groups = new Map<string, NumberGroup>();
    for (const kind of entry.kinds) {
      for (const group of groupsOf(kind, entry.coding)) {
        const name = 'vital' in kind ? `${kind.vital} ${group.part}` : group.display;
        const kinds = [...(groups.get(name)?.kinds ?? []), ...group.kinds];
        groups.set(name, { ...group, kinds });
      }
    }
    return [...groups.values()];
  });
}

function groupsOf(kind: ObservationKind, coding: Coding): NumberGroup[] {
  if ('panel' in kind) return [];
  const kinds = [whereverShown(kind)];
  if ('derived' in kind) {
    const { display } = DERIVED_CATALOGUE[kind.derived];
    return [{ coding, display, part: 'value', row: CATALOGUE['blood-pressure'], kinds }];
  }
  const row = CATALOGUE[kind.vital];
  if (row.parts.length === 0) {
    return row.unit === null ? [] : [{ coding, display: row.display, part: 'value', row, kinds }];
  }
  return row.parts
    .filter(({ part }) => kind.part === null || kind.part === part)
    .map(({ part, display, codings: [first = coding] }) => ({
      ...{ coding: kind.part === null ? first : coding, display, part, row },
      kinds: [whereverShown({ ...kind, part })],
    }));
}

/** All numbers of the catalogue. */
export function valuesOf(where: Where): ValueKind[] {
  return [
    ...VITALS.flatMap((vital) => {
      const any = { vital, methods: null, sites: null };
      const parts = CATALOGUE[vital].parts.map(({ part }) => part);
      const own = where === 'component' ? [] : [null];
      return [...own, ...(where === 'own' ? [] : parts)].flatMap((part) =>
        valueKinds({ ...any, part }),
      );
    }),
    ...(where === 'component' ? [] : DERIVED_KINDS).flatMap((derived) => valueKinds({ derived })),
  ];
}
