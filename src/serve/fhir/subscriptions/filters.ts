/**
 * Filters of a subscription: searches of Observation by the same table of parameters as any search, in the
 * forms of the guide (`Observation?code=…&…`, `code=…`, `Observation.code=…`).
 */
import type { ObservationCondition } from '../../../store/observation-conditions.js';
import { readFilter } from '../read-filter.js';
import type { SearchContext } from '../search-parameter.js';

/** @throws HttpError 400 when it is no search of Observations. */
export function readFilterCriteria(
  filter: string,
  context: SearchContext,
): readonly ObservationCondition[] {
  const query = filter.startsWith('Observation?') ? filter.slice('Observation?'.length) : filter;
  return readFilter(query, 'filter', context, (name) =>
    name.startsWith('Observation.') ? name.slice('Observation.'.length) : name,
  );
}
