/** Conditions by identifier: the only ones under which a resource is looked for on the way in. */
import type { Identifier } from '../../vitals/shapes.js';
import { HttpError } from '../http/http-error.js';
import { parsePairs } from './query-parameters.js';
import type { Pair } from './query-parameters.js';
import { readIdentifierTokens } from './search-parameter.js';
import { ValueFault, splitAlternatives } from './token-values.js';

/** What is wrong with a condition; `kind` tells another parameter from a bad value. */
export interface CriteriaFault {
  readonly kind: 'parameter' | 'value';
  /** Words that follow the name of the condition. */
  readonly words: string;
}

/**
 * The identifiers that a condition names, alternatives to each other. Nothing else may be asked for: a
 * criterion that is passed over would meet another resource.
 */
export function readCriteria(pairs: readonly Pair[]): readonly Identifier[] | CriteriaFault {
  const criteria = pairs.filter(([name]) => name !== '_format' && name !== '_pretty');
  const [only] = criteria;
  if (criteria.length !== 1 || only?.[0] !== 'identifier') {
    return { kind: 'parameter', words: 'must be identifier=system|value and nothing else' };
  }
  try {
    return readIdentifierTokens(splitAlternatives(only[1])).map(({ system, value }) => {
      if (system === null || system === '' || value === null) {
        throw new ValueFault('must name a system and a value here');
      }
      return { system, value };
    });
  } catch (error) {
    if (error instanceof ValueFault) return { kind: 'value', words: error.message };
    throw error;
  }
}

/** The same of a query as text; a text says what is wrong with it. */
export function readQuery(query: string): readonly Identifier[] | string {
  try {
    const read = readCriteria(parsePairs(query));
    return 'kind' in read ? read.words : read;
  } catch (error) {
    if (error instanceof HttpError) return 'holds what no condition can hold';
    throw error;
  }
}
