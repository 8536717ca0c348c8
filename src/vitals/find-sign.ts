/** From the codes of one observation to the sign that they stand for. */
import { readCodeSystem, readMdcNumber } from './code-systems.js';
import type { CodedSign, CodeMeaning, SentCode } from './coded-sign.js';
import { LOINC_TERMS } from './codes-loinc.js';
import { MDC_TERMS, type MdcTerm } from './codes-mdc.js';
import type { ReportDoubt } from './device-report.js';
import type { CodeMapping } from './source-profile.js';

/** What the codes of one observation mean together, and what is doubtful about it. */
export type CodeFound = (CodeMeaning | { readonly kind: 'unmapped' }) & {
  readonly doubts: readonly ReportDoubt[];
};

const BY_NUMBER = new Map(MDC_TERMS.map((term) => [term.code, term]));
const BY_NAME = termsByName();

function termsByName(): ReadonlyMap<string, readonly MdcTerm[]> {
  const terms = new Map<string, MdcTerm[]>();
  for (const term of MDC_TERMS) {
    for (const name of term.names) terms.set(name, [...(terms.get(name) ?? []), term]);
  }
  return terms;
}

/**
 * Finds what the codes of one observation stand for. A mapping of the source's own wins; else every code
 * that is known has to agree with the others: what one leaves open another may tell.
 * @param codes all codes given for the same thing, in the order of the message; for MDC the name is a
 * reference id: words for people are left out by the caller
 */
export function findSign(
  codes: readonly SentCode[],
  mappings: readonly CodeMapping[] = [],
): CodeFound {
  const mapped = codes.map((code) => findMapping(code, mappings)).find((one) => one !== undefined);
  if (mapped !== undefined) return { kind: 'sign', sign: signOfMapping(mapped), doubts: [] };
  const found = codes.map(findOne).filter((one) => one.kind !== 'unmapped');
  return found.reduce(join, found[0] ?? { kind: 'unmapped', doubts: [] });
}

function findMapping(sent: SentCode, mappings: readonly CodeMapping[]): CodeMapping | undefined {
  return mappings.find(
    ({ system, code }) => code === sent.code && (system === undefined || system === sent.system),
  );
}

function signOfMapping({ vital, part, method, site }: CodeMapping): CodedSign {
  return {
    vital,
    ...(part !== undefined && { part }),
    ...(method !== undefined && { method }),
    ...(site !== undefined && { site }),
  };
}

function findOne(sent: SentCode): CodeFound {
  const system = readCodeSystem(sent.system);
  if (system === 'MDC') return findMdc(sent);
  if (system === 'LN') {
    const meaning = LOINC_TERMS.get(sent.code ?? '');
    return meaning === undefined ? UNMAPPED : { ...meaning, doubts: [] };
  }
  // Without a system a number counts only if its name says that it is MDC's.
  if (sent.system === undefined && sent.name?.startsWith('MDC_')) return findMdc(sent);
  return UNMAPPED;
}

const UNMAPPED: CodeFound = { kind: 'unmapped', doubts: [] };

/** Terms from 0xF000 on in each partition, and partition 1024, are private: the name is no help there. */
function isPrivate(number: number): boolean {
  return number % 0x10000 >= 0xf000 || Math.floor(number / 0x10000) === 1024;
}

/**
 * The number counts; a name that is none of its names makes it doubtful. A name alone counts if it has
 * one meaning.
 */
function findMdc({ code, name }: SentCode): CodeFound {
  const number = readMdcNumber(code);
  const byNumber = number === null ? undefined : BY_NUMBER.get(number);
  if (byNumber !== undefined) {
    const agrees = name === undefined || byNumber.names.includes(name);
    return { ...byNumber.meaning, doubts: agrees ? [] : ['code-name-mismatch'] };
  }
  if (number !== null && isPrivate(number)) return UNMAPPED;
  const named = BY_NAME.get(name ?? '') ?? BY_NAME.get(code ?? '') ?? [];
  const [first, ...more] = named;
  if (first === undefined || more.some(({ meaning }) => !sameMeaning(meaning, first.meaning))) {
    return UNMAPPED;
  }
  return {
    ...first.meaning,
    doubts: [number === null ? 'code-by-name-only' : 'code-name-mismatch'],
  };
}

function sameMeaning(one: CodeMeaning, other: CodeMeaning): boolean {
  return JSON.stringify(one) === JSON.stringify(other);
}

/** Two codes of one observation: a sign stands even where the other code denies it, but in doubt. */
function join(one: CodeFound, other: CodeFound): CodeFound {
  if (one === other) return one;
  const doubts = [...new Set([...one.doubts, ...other.doubts])];
  if (one.kind === 'sign' && other.kind === 'sign') {
    const sign = joinSigns(one.sign, other.sign);
    if (sign !== null) return { kind: 'sign', sign, doubts };
  } else if (one.kind === other.kind) {
    return { ...one, doubts };
  }
  const sign = one.kind === 'sign' ? one : other.kind === 'sign' ? other : one;
  return { ...sign, doubts: [...new Set<ReportDoubt>([...doubts, 'codes-disagree'])] };
}

/** Null: they contradict each other. */
function joinSigns(one: CodedSign, other: CodedSign): CodedSign | null {
  const agree =
    one.vital === other.vital &&
    one.part === other.part &&
    (['method', 'site', 'side'] as const).every(
      (key) => one[key] === undefined || other[key] === undefined || one[key] === other[key],
    );
  if (!agree) return null;
  const doubts = [...new Set([...(one.doubts ?? []), ...(other.doubts ?? [])])];
  return { ...other, ...one, ...(doubts.length > 0 && { doubts }) };
}
