/** From the codings of an Observation, or of a component of it, to the sign that they stand for. */
import { CATALOGUE, codingsOf } from '../../vitals/catalogue.js';
import { readCodeSystem } from '../../vitals/code-systems.js';
import type { SentCode } from '../../vitals/coded-sign.js';
import type { ReportDoubt } from '../../vitals/device-report.js';
import { findSign, type CodeFound } from '../../vitals/find-sign.js';
import type { CodeMapping } from '../../vitals/source-profile.js';
import type { Method, Part, Site, Vital } from '../../vitals/words.js';

/** What elements beside the code tell; undefined: nothing. */
export interface Told {
  readonly method: Method | undefined;
  readonly site: Site | undefined;
}

/**
 * What the codings stand for together. A coding that the catalogue itself gives to a reading of this
 * method and site says no more than they do: MDC's non-invasive pressure is a cuff's only where nobody
 * tells that somebody listened.
 */
export function readSign(
  codes: readonly SentCode[],
  mappings: readonly CodeMapping[],
  told: Told,
): CodeFound {
  const found = findSign(codes, mappings);
  if (found.kind === 'panel') return { ...found, ...panelMethod(codes, told) };
  if (found.kind !== 'sign') return found;
  const { vital, part } = found.sign;
  const method =
    told.method ??
    methodOf(
      codes.filter((code) => !isMdc(code)),
      mappings,
    );
  const repeated = repeatedCodes(vital, part, method, told.site);
  const rest = codes.filter((code) => !repeated.has(keyOf(code)));
  const bare = { vital, ...(part !== undefined && { part }), ...(method && { method }) };
  const own: CodeFound = { kind: 'sign', sign: bare, doubts: nameDoubts(codes, mappings) };
  if (rest.length === 0) return own;
  const others = findSign(rest, mappings);
  if (others.kind === 'unmapped') return own;
  const same = others.kind === 'sign' && others.sign.vital === vital && others.sign.part === part;
  if (!same) return found;
  const doubts = [...new Set([...own.doubts, ...others.doubts])];
  return {
    kind: 'sign',
    sign: { ...others.sign, ...(method && { method }) },
    doubts: disagree(others.sign.method, method, doubts),
  };
}

function disagree(
  coded: Method | undefined,
  method: Method | undefined,
  doubts: readonly ReportDoubt[],
): readonly ReportDoubt[] {
  const contradicts = coded !== undefined && method !== undefined && coded !== method;
  return contradicts ? [...new Set<ReportDoubt>([...doubts, 'codes-disagree'])] : doubts;
}

function isMdc({ system }: SentCode): boolean {
  return readCodeSystem(system) === 'MDC';
}

function keyOf({ system = '', code = '' }: SentCode): string {
  return `${system}|${code}`;
}

/** The method that codes tell if they agree. */
function methodOf(
  codes: readonly SentCode[],
  mappings: readonly CodeMapping[],
): Method | undefined {
  const found = findSign(codes, mappings);
  return found.kind === 'sign' ? found.sign.method : undefined;
}

/** The codings that the catalogue gives to such a reading. */
function repeatedCodes(
  vital: Vital,
  part: Part | undefined,
  method: Method | undefined,
  site: Site | undefined,
): ReadonlySet<string> {
  const row = CATALOGUE[vital];
  const codes = part === undefined ? row : row.parts.find((one) => one.part === part);
  if (codes === undefined) return new Set();
  return new Set(codingsOf(codes, method ?? null, site ?? null).map(keyOf));
}

/** A panel has no value and one code at least; which method it means may stand in another of them. */
function panelMethod(codes: readonly SentCode[], { method }: Told): { method?: Method } {
  if (method !== undefined) return { method };
  for (const code of codes) {
    const found = findSign([code]);
    if (found.kind === 'panel' && found.method !== undefined) return { method: found.method };
  }
  return {};
}

/** Doubts of each coding by itself. */
function nameDoubts(
  codes: readonly SentCode[],
  mappings: readonly CodeMapping[],
): readonly ReportDoubt[] {
  return [...new Set(codes.flatMap((code) => findSign([code], mappings).doubts))];
}
