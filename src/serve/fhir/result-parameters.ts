/** Parameters of a search that say nothing of what is looked for: how much is shown, and in what form. */
import { badValue } from './refuse.js';
import type { Pair } from './query-parameters.js';
import { WHOLE } from './shape-resource.js';
import type { Shape } from './shape-resource.js';

export const DEFAULT_COUNT = 50;
export const MAX_COUNT = 1000;
/** The parameter of next links that says where the page begins. */
export const PAGE_PARAMETER = '_page';

const RESULT_PARAMETERS = ['_count', '_sort', '_total', '_summary', PAGE_PARAMETER] as const;
type ResultParameter = (typeof RESULT_PARAMETERS)[number] | '_elements';

/** As they stand in the address. */
export type GivenResults = Partial<Record<ResultParameter, string>>;

/** What they ask for. */
export interface ResultWishes {
  readonly count: number;
  /** The number of matches is wanted, not the matches. */
  readonly countOnly: boolean;
  readonly total: boolean;
  readonly sort: string | null;
  readonly page: string | null;
  readonly shape: Shape;
}

/** @param shaped whether resources may be shown in part */
export function isResultParameter(name: string, shaped: boolean): name is ResultParameter {
  return (
    (RESULT_PARAMETERS as readonly string[]).includes(name) || (shaped && name === '_elements')
  );
}

/** @throws HttpError 400 when one stands more than once. */
export function takeResultParameter(
  given: GivenResults,
  name: ResultParameter,
  value: string,
): void {
  if (given[name] !== undefined) throw badValue(name, 'stands more than once');
  given[name] = value;
}

/**
 * Reads them, and adds to `used` what was applied.
 *
 * @throws HttpError 400 for a value that cannot be understood.
 */
export function readResultParameters(
  given: GivenResults,
  used: Pair[],
  shaped: boolean,
): ResultWishes {
  const count = readCount(given._count);
  const summary = readChoice(
    '_summary',
    given._summary,
    shaped ? ['false', 'count', 'true', 'text', 'data'] : ['false', 'count'],
  );
  const total = readChoice('_total', given._total, ['none', 'estimate', 'accurate']);
  const shown = { ...given, ...(given._count === undefined ? {} : { _count: String(count) }) };
  for (const name of [...RESULT_PARAMETERS, '_elements'] as const) {
    const value = shown[name];
    if (value !== undefined && name !== PAGE_PARAMETER) used.push([name, value]);
  }
  return {
    count,
    countOnly: count === 0 || summary === 'count',
    total: total === 'estimate' || total === 'accurate',
    sort: given._sort ?? null,
    page: given[PAGE_PARAMETER] ?? null,
    shape: readShape(summary, given._elements),
  };
}

function readShape(summary: string | undefined, elements: string | undefined): Shape {
  const isPart = summary === 'true' || summary === 'text' || summary === 'data';
  if (elements === undefined) return isPart ? { summary } : WHOLE;
  if (isPart) throw badValue('_elements', 'does not go with a _summary');
  const names = elements.split(',');
  if (names.length > 50 || !names.every((name) => /^[a-z][A-Za-z]{0,63}(?:\[x\])?$/.test(name))) {
    throw badValue('_elements', 'takes names of elements, at most 50, with commas between them');
  }
  return { elements: names.map((name) => name.replace('[x]', '')) };
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
