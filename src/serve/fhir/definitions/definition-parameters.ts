/** By what SearchParameters and OperationDefinitions are found. */
import { DEFINITIONS } from '../search-parameter.js';
import type { SearchParameter } from '../search-parameter.js';
import { matchesToken, readPlain, readToken } from '../token-values.js';
import type { Definition } from './render-definitions.js';

/** Whether a definition is meant. */
export type DefinitionCondition = (definition: Definition) => boolean;
type Parameter = SearchParameter<DefinitionCondition>;

const RESOURCE_TYPES_SYSTEM = 'http://hl7.org/fhir/resource-types';

const BASE: Parameter = {
  name: 'base',
  type: 'token',
  definition: `${DEFINITIONS}SearchParameter-base`,
  documentation: 'The type of resource that it finds, e.g. Observation.',
  condition: (values) => {
    const tokens = values.map(readToken);
    const system = RESOURCE_TYPES_SYSTEM;
    return (one) =>
      one.resourceType === 'SearchParameter' &&
      one.base.some((code) => tokens.some((token) => matchesToken(token, { system, code })));
  },
};

function shared(type: 'SearchParameter' | 'OperationDefinition'): Parameter[] {
  return [
    {
      name: '_id',
      type: 'token',
      definition: `${DEFINITIONS}Resource-id`,
      documentation: 'Logical ids.',
      condition: (values) => {
        const ids = values.map(readPlain);
        return ({ id = '' }) => ids.includes(id);
      },
    },
    {
      name: 'url',
      type: 'uri',
      definition: `${DEFINITIONS}conformance-url`,
      documentation: 'The address under which it is known.',
      condition: (values) => {
        const urls = values.map(readPlain);
        return ({ url = '' }) => urls.includes(url);
      },
    },
    {
      name: 'code',
      type: 'token',
      definition: `${DEFINITIONS}${type}-code`,
      documentation: 'As it is used in an address, e.g. combo-code or lastn.',
      condition: (values) => {
        const tokens = values.map(readToken);
        return ({ code }) => tokens.some((token) => token.code === code);
      },
    },
  ];
}

export const DEFINITION_PARAMETERS: Readonly<
  Record<Definition['resourceType'], readonly Parameter[]>
> = {
  SearchParameter: [...shared('SearchParameter'), BASE],
  OperationDefinition: shared('OperationDefinition'),
};
