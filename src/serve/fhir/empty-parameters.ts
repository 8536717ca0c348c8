/** Search parameters for elements that no Observation here has: whatever is asked for, nothing is found. */
import type { ObservationCondition } from '../../store/observation-conditions.js';
import { DEFINITIONS, referencedIds } from './search-parameter.js';
import type { SearchParameter } from './search-parameter.js';
import { readPlain, readToken } from './token-values.js';

type Parameter = SearchParameter<ObservationCondition>;

const NOTHING: ObservationCondition = { on: 'kind', kinds: [] };

function empty(
  name: string,
  type: 'reference' | 'token' | 'uri',
  definition: string,
  what: string,
): Parameter {
  return {
    name,
    type,
    definition: `${DEFINITIONS}${definition}`,
    documentation: `No Observation here ${what}: nothing is found.`,
    condition: (values, context) => {
      // What is no value of the type is refused as elsewhere.
      if (type === 'token') values.forEach(readToken);
      else if (type === 'uri') values.forEach(readPlain);
      else referencedIds(values, '', context);
      return NOTHING;
    },
  };
}

export const EMPTY_PARAMETERS: readonly Parameter[] = [
  empty('based-on', 'reference', 'Observation-based-on', 'says what it was ordered by'),
  empty('part-of', 'reference', 'Observation-part-of', 'is part of a procedure'),
  empty('focus', 'reference', 'Observation-focus', 'is about another than its subject'),
  empty('specimen', 'reference', 'Observation-specimen', 'was made on a specimen'),
  empty('_security', 'token', 'Resource-security', 'has a security label'),
  empty('_source', 'uri', 'Resource-source', 'names a source in its meta'),
];
