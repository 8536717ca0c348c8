/** A search of Observations that stands inside something else: a filter of an export or of a subscription. */
import type { ObservationCondition } from '../../store/observation-conditions.js';
import { parseSearch } from './parse-search.js';
import { parsePairs, printableName } from './query-parameters.js';
import type { Pair } from './query-parameters.js';
import { badValue } from './refuse.js';
import { OBSERVATION_PARAMETERS } from './search-parameters.js';
import type { SearchContext } from './search-parameter.js';

/**
 * The conditions of a search `name=value&…`, which no parameter but those of the table may be part of.
 *
 * @param of the parameter or element that holds the search
 * @throws HttpError 400
 */
export function readFilter(
  filter: string,
  of: string,
  context: SearchContext,
  rename: (name: string) => string = (name) => name,
): readonly ObservationCondition[] {
  const pairs = parsePairs(filter).map(([name, value]): Pair => [rename(name), value]);
  // What shapes an answer chooses no resources, and would be passed over in silence.
  const shaping = pairs.find(
    ([name]) => name.startsWith('_') && OBSERVATION_PARAMETERS.every((one) => one.name !== name),
  );
  if (shaping !== undefined) throw badValue(of, `takes no ${printableName(shaping[0])}`);
  return parseSearch(pairs, OBSERVATION_PARAMETERS, 'strict', context).conditions;
}
