import type { Pair } from './query-parameters.js';
import { printableName } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';
import type { SearchContext, ParameterReader } from './search-parameters.js';
import { ValueFault, splitAlternatives } from './token-values.js';

/** `Prefer: handling`; `default`: nothing was said. */
export type Handling = 'strict' | 'lenient' | 'default';

export const DEFAULT_COUNT = 50;
export const MAX_COUNT = 1000;
/** The parameter of next links that says where the page begins. */
export const PAGE_PARAMETER = '_page';

/** Alternatives that one search may name in all: each costs the database a comparison a row. */
const MAX_ALTERNATIVES = 1000;

const RESULT_PARAMETERS = ['_count', '_sort', '_total', '_summary', PAGE_PARAMETER] as const;
type ResultParameter = (typeof RESULT_PARAMETERS)[number];

/** Read before the search itself, by whoever chooses the form of the answer. */
const FORM_PARAMETERS = ['_format', '_pretty'];

/** Only shape the answer: without them it holds the same matches, so that they may be passed over. */
const SHAPING = ['_include', '_revinclude', '_elements', '_contained', '_containedType'];

export interface ParsedSearch<Condition> {
  readonly conditions: readonly Condition[];
  /** What was applied, as it was understood, without the page: the links of the answer repeat it. */
  readonly used: readonly Pair[];
  /** Names of what was passed over. */
  readonly ignored: readonly string[];
  readonly count: number;
  /** The number of matches is wanted, not the matches. */
  readonly countOnly: boolean;
  readonly total: boolean;
  readonly sort: string | null;
  readonly page: string | null;
}

interface Parsing<Condition> {
  readonly conditions: Condition[];
  readonly used: Pair[];
  readonly ignored: string[];
  readonly result: Partial<Record<ResultParameter, string>>;
  alternatives: number;
}

/**
 * Reads the parameters of a search by its table.
 *
 * What is not offered is refused under `handling=strict` and passed over under `handling=lenient`.
 * When nothing was said, it is refused if the answer would hold more without it than was asked for
 * (another patient's data, in the worst case), and passed over if it only shapes the answer.
 *
 * @throws HttpError 400 for what is refused and for values that cannot be understood.
 */
export function parseSearch<Condition>(
  pairs: readonly Pair[],
  parameters: readonly ParameterReader<Condition>[],
  handling: Handling,
  context: SearchContext,
): ParsedSearch<Condition> {
  const parsing: Parsing<Condition> = {
    conditions: [],
    used: [],
    ignored: [],
    result: {},
    alternatives: 0,
  };
  for (const [name, value] of pairs) {
    if (value === '') throw badValue(printableName(name), 'has no value');
    const parameter = parameters.find((one) => one.name === name);
    if (parameter !== undefined) addCondition(parsing, parameter, value, context);
    else if (isResultParameter(name)) addResultParameter(parsing, name, value);
    else if (FORM_PARAMETERS.includes(name)) parsing.used.push([name, value]);
    else passOver(parsing, name, handling, parameters);
  }
  return { ...parsing, ...readResultParameters(parsing) };
}

function isResultParameter(name: string): name is ResultParameter {
  return (RESULT_PARAMETERS as readonly string[]).includes(name);
}

function addCondition<Condition>(
  parsing: Parsing<Condition>,
  parameter: ParameterReader<Condition>,
  value: string,
  context: SearchContext,
): void {
  try {
    const values = splitAlternatives(value);
    parsing.alternatives += values.length;
    if (parsing.alternatives > MAX_ALTERNATIVES) {
      throw refusal(400, 'too-costly', `A search names at most ${MAX_ALTERNATIVES} values.`);
    }
    const condition = parameter.condition(values, context);
    if (condition !== null) parsing.conditions.push(condition);
    const { resolve } = parameter;
    const resolved = resolve === undefined ? values : values.map((one) => resolve(one, context));
    parsing.used.push([parameter.name, resolved.join(',')]);
  } catch (error) {
    if (error instanceof ValueFault) throw badValue(parameter.name, error.message);
    throw error;
  }
}

function addResultParameter(
  { result }: Pick<Parsing<unknown>, 'result'>,
  name: ResultParameter,
  value: string,
): void {
  if (result[name] !== undefined) throw badValue(name, 'stands more than once');
  result[name] = value;
}

function passOver(
  parsing: Parsing<unknown>,
  name: string,
  handling: Handling,
  parameters: readonly { readonly name: string }[],
): void {
  const [base = '', modifier] = name.split(':', 2);
  const shown = printableName(name);
  if (modifier !== undefined && parameters.some((one) => one.name === base)) {
    throw refusal(400, 'code-invalid', `${shown}: this modifier is not offered.`, `http.${shown}`);
  }
  const harmless = handling === 'default' && SHAPING.includes(base);
  if (handling !== 'lenient' && !harmless) {
    throw refusal(400, 'not-supported', `${shown} is not offered here.`, `http.${shown}`);
  }
  parsing.ignored.push(shown);
}

function readResultParameters({
  result,
  used,
}: Parsing<unknown>): Pick<
  ParsedSearch<unknown>,
  'count' | 'countOnly' | 'total' | 'sort' | 'page'
> {
  const count = readCount(result._count);
  const summary = readChoice('_summary', result._summary, ['false', 'count']);
  const total = readChoice('_total', result._total, ['none', 'estimate', 'accurate']);
  const given = { ...result, ...(result._count === undefined ? {} : { _count: String(count) }) };
  for (const name of RESULT_PARAMETERS) {
    const value = given[name];
    if (value !== undefined && name !== PAGE_PARAMETER) used.push([name, value]);
  }
  return {
    count,
    countOnly: count === 0 || summary === 'count',
    total: total === 'estimate' || total === 'accurate',
    sort: result._sort ?? null,
    page: result[PAGE_PARAMETER] ?? null,
  };
}

/** A server may send fewer than asked for, never more. */
function readCount(value: string | undefined): number {
  if (value === undefined) return DEFAULT_COUNT;
  if (!/^\d{1,20}$/.test(value)) throw badValue('_count', 'is not a whole number from 0 up');
  return Math.min(Number(value), MAX_COUNT);
}

function readChoice(
  name: ResultParameter,
  value: string | undefined,
  choices: readonly string[],
): string | undefined {
  if (value !== undefined && !choices.includes(value)) {
    throw badValue(name, `is not one of ${choices.join(', ')}`);
  }
  return value;
}
