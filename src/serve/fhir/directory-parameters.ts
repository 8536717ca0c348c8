/** Search parameters of devices, visits, people and places. */
import type { DirectoryCondition } from '../../store/find-directory.js';
import { rangesOf, readStatedTime } from './search-date.js';
import { DEFINITIONS, knownIds, readIdentifierTokens, referencedIds } from './search-parameter.js';
import type { SearchParameter } from './search-parameter.js';
import { isId } from './site.js';
import { readPlain } from './token-values.js';

type Parameter = SearchParameter<DirectoryCondition>;

const ID: Parameter = {
  name: '_id',
  type: 'token',
  definition: `${DEFINITIONS}Resource-id`,
  documentation: 'Logical ids.',
  condition: (values) => ({ on: 'id', ids: knownIds(values) }),
};

function identifierOf(type: string): Parameter {
  return {
    name: 'identifier',
    type: 'token',
    definition: `${DEFINITIONS}${type}-identifier`,
    documentation: 'The identifier by which senders name it: system|value.',
    condition: (values) => ({ on: 'identifier', tokens: readIdentifierTokens(values) }),
  };
}

export const DEVICE_PARAMETERS: readonly Parameter[] = [
  identifierOf('Device'),
  ID,
  {
    name: '_lastUpdated',
    type: 'date',
    definition: `${DEFINITIONS}Resource-lastUpdated`,
    documentation:
      'When it was registered or changed last; devices that nobody registered are not found.',
    condition: (values, { siteMs, nowMs }) => ({
      on: 'stamp',
      ranges: values.flatMap((value) => rangesOf(readStatedTime(readPlain(value), siteMs), nowMs)),
    }),
    resolve: (value, { siteMs }) => readStatedTime(readPlain(value), siteMs).resolved,
  },
];

export const ENCOUNTER_PARAMETERS: readonly Parameter[] = [
  // R4 has one definition for the identifiers of clinical resources.
  identifierOf('clinical'),
  ID,
  {
    name: 'patient',
    type: 'reference',
    definition: `${DEFINITIONS}clinical-patient`,
    documentation: 'Whose visit it is: id, Patient/id, or the absolute URL here.',
    condition: (values, context) => ({
      on: 'patient',
      ids: referencedIds(values, 'Patient', context).filter(isId),
    }),
  },
];

export const PRACTITIONER_PARAMETERS: readonly Parameter[] = [identifierOf('Practitioner'), ID];

function named(exact: boolean): Parameter['condition'] {
  return (values) => ({ on: 'name', names: values.map(readPlain), exact });
}

export const LOCATION_PARAMETERS: readonly Parameter[] = [
  {
    name: 'name',
    type: 'string',
    definition: `${DEFINITIONS}Location-name`,
    documentation: 'How the place begins, in whatever case, e.g. a ward; name:exact as it is.',
    condition: named(false),
    forms: [{ name: 'name:exact', condition: named(true) }],
  },
  ID,
];
