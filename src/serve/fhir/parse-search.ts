import type { FhirScopeType } from '../auth/fhir-scopes.js';
import type { Pair } from './query-parameters.js';
import { printableName } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';
import {
  isResultParameter,
  readResultParameters,
  takeResultParameter,
} from './result-parameters.js';
import type { GivenResults, ResultWishes } from './result-parameters.js';
import { readersOf } from './search-parameter.js';
import type { ParameterReader, SearchContext, SearchParameter } from './search-parameter.js';
import { ValueFault, splitAlternatives } from './token-values.js';

/** `Prefer: handling`; `default`: nothing was said. */
export type Handling = 'strict' | 'lenient' | 'default';

/** Alternatives that one search may name in all: each costs the database a comparison a row. */
const MAX_ALTERNATIVES = 1000;

/** Read before the search itself, by whoever chooses the form of the answer. */
const FORM_PARAMETERS = ['_format', '_pretty'];

/** Only shape the answer: without them it holds the same matches, so that they may be passed over. */
const SHAPING = ['_include', '_revinclude', '_elements', '_contained', '_containedType'];

/** What may be asked for beside the matches, e.g. `Observation:device`. */
export interface IncludeName {
  readonly by: '_include' | '_revinclude';
  readonly name: string;
  /** The type of what is brought along. */
  readonly type: FhirScopeType;
  /** The type that the reference leads to: may stand as the third word. */
  readonly to: FhirScopeType;
}

/** What a search offers beside its parameters. */
export interface SearchOffer {
  /** Resources may be shown in part. */
  readonly shaped?: boolean;
  readonly includes?: readonly IncludeName[];
}

export interface ParsedSearch<Condition> extends ResultWishes {
  readonly conditions: readonly Condition[];
  /** What was applied, as it was understood, without the page: the links of the answer repeat it. */
  readonly used: readonly Pair[];
  /** Names of what was passed over. */
  readonly ignored: readonly string[];
  /** Of what is offered, what was asked for. */
  readonly includes: readonly IncludeName[];
}

interface Parsing<Condition> {
  readonly conditions: Condition[];
  readonly used: Pair[];
  readonly ignored: string[];
  readonly includes: IncludeName[];
  readonly given: GivenResults;
  alternatives: number;
}

type Parameters<Condition> = readonly (ParameterReader<Condition> &
  Partial<SearchParameter<Condition>>)[];

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
  parameters: Parameters<Condition>,
  handling: Handling,
  context: SearchContext,
  { shaped = false, includes = [] }: SearchOffer = {},
): ParsedSearch<Condition> {
  const parsing: Parsing<Condition> = {
    ...{ conditions: [], used: [], ignored: [], includes: [], given: {} },
    alternatives: 0,
  };
  const readers = readersOf(parameters);
  for (const [name, value] of pairs) {
    if (value === '') throw badValue(printableName(name), 'has no value');
    const parameter = readers.get(name);
    const included = includesNamed(includes, name, value);
    if (parameter !== undefined) addCondition(parsing, parameter, value, context);
    else if (isResultParameter(name, shaped)) takeResultParameter(parsing.given, name, value);
    else if (FORM_PARAMETERS.includes(name)) parsing.used.push([name, value]);
    else if (included.length > 0) addIncludes(parsing, name, value, included);
    else passOver(parsing, name, handling, parameters);
  }
  const { given, conditions, used, ignored } = parsing;
  const wishes = readResultParameters(given, used, shaped);
  const wanted = parsing.includes;
  if (wanted.length > 0 && 'summary' in wishes.shape && wishes.shape.summary === 'text') {
    // FHIR R4 §3.1.1.5.8: what is included may not be mixed with texts.
    throw badValue('_summary', 'text does not go with _include');
  }
  return { ...wishes, conditions, used, ignored, includes: wanted };
}

/** `Type:parameter`, `Type:parameter:Target`, or all of them by an asterisk. */
function includesNamed(
  offered: readonly IncludeName[],
  by: string,
  value: string,
): readonly IncludeName[] {
  return offered.filter(
    (one) =>
      one.by === by &&
      (value === one.name ||
        value === `${one.name}:${one.to}` ||
        (value === '*' && by === '_include')),
  );
}

function addIncludes(
  { includes, used }: Parsing<unknown>,
  name: string,
  value: string,
  added: readonly IncludeName[],
): void {
  for (const one of added) if (!includes.includes(one)) includes.push(one);
  used.push([name, value]);
}

function addCondition<Condition>(
  parsing: Parsing<Condition>,
  parameter: ParameterReader<Condition>,
  value: string,
  context: SearchContext,
): void {
  try {
    const values = splitAlternatives(value);
    parsing.alternatives += values.length * (parameter.cost ?? 1);
    if (parsing.alternatives > MAX_ALTERNATIVES) {
      const text = `A search names at most ${MAX_ALTERNATIVES} values, a quantity counting as 20.`;
      throw refusal(400, 'too-costly', text);
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
