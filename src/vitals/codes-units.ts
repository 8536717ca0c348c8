/**
 * Units as devices name them: MDC numbers (IEEE 11073-10101, NIST term table, January 2025) with the
 * UCUM spellings that the NIST table of units gives beside each, and UCUM itself (case sensitive).
 * Nothing is guessed: another spelling counts only where the source's own mapping has it.
 */
import type { SentCode } from './coded-sign.js';
import { readCodeSystem, readMdcNumber } from './code-systems.js';
import type { ReportDoubt } from './device-report.js';
import type { UnitMapping } from './source-profile.js';
import type { EnteredUnit } from './words.js';

interface UnitRow {
  readonly mdc: number;
  readonly names: readonly string[];
  /** UCUM, the first one the usual. */
  readonly ucum: readonly string[];
  /** Null: known, and no sign of the catalogue takes it. */
  readonly unit: EnteredUnit | null;
}

function row(
  mdc: number,
  names: readonly string[],
  ucum: readonly string[],
  unit: EnteredUnit | null,
): UnitRow {
  return { mdc, names: names.map((name) => `MDC_DIM_${name}`), ucum, unit };
}

export const UNIT_ROWS: readonly UnitRow[] = [
  row(266016, ['MMHG'], ['mm[Hg]'], 'mm[Hg]'),
  row(265987, ['KILO_PASCAL'], ['kPa'], 'kPa'),
  row(262688, ['PERCENT'], ['%'], '%'),
  row(268384, ['VOL_PERCENT'], ['%{vol}'], '%'),
  row(264672, ['PER_MIN'], ['/min', '1/min', '{count}/min'], '/min'),
  row(264864, ['BEAT_PER_MIN'], ['{beats}/min', '{beat}/min'], '{beats}/min'),
  row(264896, ['PULS_PER_MIN'], ['{pulse}/min', '{pulses}/min'], '{beats}/min'),
  row(264928, ['RESP_PER_MIN'], ['{breaths}/min', '{breath}/min', '{resp}/min'], '{breaths}/min'),
  row(268192, ['DEGC'], ['Cel'], 'Cel'),
  row(266560, ['FAHR'], ['[degF]'], '[degF]'),
  row(263875, ['KILO_G'], ['kg'], 'kg'),
  row(263872, ['G', 'X_G'], ['g'], 'g'),
  row(263904, ['LB'], ['[lb_av]'], '[lb_av]'),
  row(263441, ['CENTI_M'], ['cm'], 'cm'),
  row(263424, ['M', 'X_M'], ['m'], 'm'),
  row(263520, ['INCH'], ['[in_i]'], '[in_i]'),
  row(265216, ['L_PER_MIN', 'X_L_PER_MIN'], ['L/min', 'l/min'], 'L/min'),
  row(262656, ['DIMLESS'], ['1', '{unitless}'], null),
  row(266528, ['KELVIN'], ['K'], null),
  row(266048, ['CM_H2O'], ['cm[H2O]'], null),
  row(266098, ['MILLI_BAR'], ['mbar'], null),
  row(265984, ['PASCAL', 'X_PASCAL'], ['Pa'], null),
  row(265986, ['HECTO_PASCAL'], ['hPa'], null),
  row(263936, ['OZ'], ['[oz_av]'], null),
  row(263488, ['FOOT'], ['[ft_i]'], null),
  row(264320, ['SEC'], ['s'], null),
];

const BY_MDC = new Map(UNIT_ROWS.map((unit) => [unit.mdc, unit]));
const BY_NAME = new Map(UNIT_ROWS.flatMap((unit) => unit.names.map((name) => [name, unit])));
const BY_UCUM = new Map(UNIT_ROWS.flatMap((unit) => unit.ucum.map((ucum) => [ucum, unit])));

/** The unit of the contract that a UCUM code stands for; null: it is in no table, or no sign takes it. */
export function unitOfUcum(code: string): EnteredUnit | null {
  return BY_UCUM.get(code)?.unit ?? null;
}

const MAX_UNIT_LENGTH = 60;

/** A unit as a reading takes it over. */
export interface UnitFound {
  /** A unit of the contract, else the text as sent, which costs the reading; absent: none was sent. */
  readonly unit?: string;
  readonly doubts: readonly ReportDoubt[];
}

/**
 * Reads a unit from all the codes that a message gives it. They have to agree.
 * @param codes the triplets of one field, in order
 * @param aliases spellings of the source's own; they come first
 */
export function readUnit(codes: readonly SentCode[], aliases: readonly UnitMapping[]): UnitFound {
  const sent = codes.filter(({ code, name }) => code !== undefined || name !== undefined);
  const read = sent.map((code) => readOne(code, aliases));
  const known = read.filter((unit): unit is KnownUnit => unit.row !== undefined);
  const first = known[0];
  if (first === undefined) {
    const text = textOf(sent[0]);
    return { ...(text !== undefined && { unit: text.slice(0, MAX_UNIT_LENGTH) }), doubts: [] };
  }
  const doubts = new Set(known.flatMap((unit) => unit.doubts));
  if (known.some((other) => !sameUnit(other.row, first.row))) {
    doubts.add('codes-disagree');
  }
  return { unit: first.row.unit ?? first.row.ucum[0] ?? '', doubts: [...doubts] };
}

/** An MDC number says less to people than its name. */
function textOf({ system, code, name }: SentCode = {}): string | undefined {
  return readCodeSystem(system) === 'MDC' ? (name ?? code) : (code ?? name);
}

type UnitMeaning = Pick<UnitRow, 'unit' | 'ucum'>;

interface OneUnit {
  readonly row?: UnitMeaning;
  readonly doubts: readonly ReportDoubt[];
}

type KnownUnit = OneUnit & { readonly row: UnitMeaning };

const UNREAD: OneUnit = { doubts: [] };

function readOne(sent: SentCode, aliases: readonly UnitMapping[]): OneUnit {
  const alias = aliases.find((one) => one.alias === sent.code || one.alias === sent.name);
  if (alias !== undefined) return { row: { unit: alias.unit, ucum: [alias.unit] }, doubts: [] };
  const system = readCodeSystem(sent.system);
  if (system === 'MDC' || (system === null && sent.name?.startsWith('MDC_DIM_'))) {
    return readMdcUnit(sent);
  }
  // Without a system the exact spelling is enough: no other list has it with another meaning.
  if (system !== 'UCUM' && sent.system !== undefined) return UNREAD;
  const found = BY_UCUM.get(sent.code ?? '');
  return found === undefined ? UNREAD : { row: found, doubts: [] };
}

/** The number counts; a name that is not one of its names makes it doubtful. */
function readMdcUnit({ code, name }: SentCode): OneUnit {
  const byName = BY_NAME.get(name ?? '') ?? BY_NAME.get(code ?? '');
  const byNumber = BY_MDC.get(readMdcNumber(code) ?? 0);
  if (byNumber === undefined) {
    if (byName === undefined) return UNREAD;
    const named = code === undefined || code === name || code.startsWith('MDC_');
    return { row: byName, doubts: [named ? 'code-by-name-only' : 'code-name-mismatch'] };
  }
  const agrees = name === undefined || byNumber.names.includes(name);
  return { row: byNumber, doubts: agrees ? [] : ['code-name-mismatch'] };
}

const RATES: readonly (EnteredUnit | null)[] = ['/min', '{beats}/min', '{breaths}/min'];

/** An annotation changes nothing (UCUM §12), but one may say more than the other: so for rates. */
function sameUnit(one: UnitMeaning, other: UnitMeaning): boolean {
  if (one.unit === null || other.unit === null) return one === other;
  return one.unit === other.unit || (RATES.includes(one.unit) && RATES.includes(other.unit));
}
