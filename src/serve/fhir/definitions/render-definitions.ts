/**
 * SearchParameters and OperationDefinitions as they are supported here: made from the
 * CapabilityStatement, so that neither can say what the other does not. Each is derived from the
 * definition of the standard, which the statement names.
 */
import type {
  CapabilityStatement,
  CapabilityStatementRestResource,
  CapabilityStatementRestResourceOperation,
  CapabilityStatementRestResourceSearchParam,
  OperationDefinition,
  SearchParameter,
} from 'fhir/r4.js';
import { COMMON_EXPRESSIONS, COMPOSITE_PARTS, EXPRESSIONS, TARGETS } from './expressions.js';
import type { ResourceType } from './expressions.js';
import { parametersOf } from './operations.js';

export type Definition = SearchParameter | OperationDefinition;

/** R4 §3.1.1.4.5 and §3.1.1.4.17; on dates and quantities alone. */
const COMPARATORS = ['eq', 'ne', 'gt', 'ge', 'lt', 'le', 'sa', 'eb', 'ap'] as const;
const COMPARED = ['date', 'quantity'];

interface Frame {
  readonly baseUrl: string;
  readonly date: string;
}

/** A name for programs: each word with a capital, nothing but letters. */
function nameOf(...words: readonly string[]): string {
  return words
    .flatMap((word) => word.split(/[^A-Za-z]+/))
    .map((word) => word.charAt(0).toUpperCase() + word.slice(1))
    .join('');
}

function idOf(type: string, code: string): string {
  return `${type}-${code.replace(/^_/, '')}`;
}

/** R4 lets several types share a definition; what composite parts are made of is declared here, too. */
function composed(
  type: string,
  name: string,
  { baseUrl }: Frame,
): Pick<SearchParameter, 'component'> {
  const prefix = name.startsWith('combo-') ? 'combo-' : '';
  const own = name.startsWith('component-') ? 'component-' : prefix;
  return {
    component: COMPOSITE_PARTS.map(({ of, expression }) => ({
      definition: `${baseUrl}/SearchParameter/${idOf(type, own + of)}`,
      expression,
    })),
  };
}

function toSearchParameter(
  type: ResourceType,
  declared: CapabilityStatementRestResourceSearchParam,
  frame: Frame,
): SearchParameter {
  const { name, type: kind, definition, documentation } = declared;
  const id = idOf(type, name);
  const expression = EXPRESSIONS[`${type}.${name}`] ?? COMMON_EXPRESSIONS[name];
  const target = TARGETS[name];
  return {
    resourceType: 'SearchParameter',
    id,
    url: `${frame.baseUrl}/SearchParameter/${id}`,
    name: nameOf(type, name),
    ...(definition === undefined ? {} : { derivedFrom: definition }),
    status: 'active',
    date: frame.date,
    description: documentation ?? name,
    code: name,
    base: [type],
    type: kind,
    ...(expression === undefined ? {} : { expression, xpathUsage: 'normal' as const }),
    ...(kind === 'reference' && target !== undefined ? { target: [...target] } : {}),
    multipleOr: true,
    multipleAnd: true,
    ...(COMPARED.includes(kind) ? { comparator: [...COMPARATORS] } : {}),
    ...(kind === 'composite' ? composed(type, name, frame) : {}),
  };
}

type Level = 'system' | 'type' | 'instance';

function toOperationDefinition(
  type: ResourceType | null,
  levels: readonly Level[],
  { name, definition, documentation }: CapabilityStatementRestResourceOperation,
  { baseUrl, date }: Frame,
): OperationDefinition {
  const id = idOf(type ?? 'system', name);
  const parameter = parametersOf(name);
  return {
    resourceType: 'OperationDefinition',
    id,
    url: `${baseUrl}/OperationDefinition/${id}`,
    name: nameOf(type ?? 'System', name),
    status: 'active',
    kind: 'operation',
    date,
    ...(documentation === undefined ? {} : { description: documentation }),
    code: name,
    base: definition,
    ...(type === null ? {} : { resource: [type] }),
    system: levels.includes('system'),
    type: levels.includes('type'),
    instance: levels.includes('instance'),
    ...(parameter.length === 0 ? {} : { parameter }),
  };
}

/** What concerns one Group or Subscription is asked of it; every other operation here is asked of the type. */
function levelsOf(type: string, operation: string): readonly Level[] {
  if (type === 'Subscription' && operation === 'status') return ['type', 'instance'];
  return type === 'Group' || type === 'Subscription' ? ['instance'] : ['type'];
}

function definitionsOf(resource: CapabilityStatementRestResource, frame: Frame): Definition[] {
  const { type, searchParam = [], operation = [] } = resource;
  return [
    ...searchParam.map((one) => toSearchParameter(type, one, frame)),
    ...operation.map((one) => toOperationDefinition(type, levelsOf(type, one.name), one, frame)),
  ];
}

/** Every definition that the statement speaks of, in the order of their ids. */
export function renderDefinitions(statement: CapabilityStatement, baseUrl: string): Definition[] {
  const frame = { baseUrl, date: statement.date };
  const definitions = (statement.rest ?? []).flatMap(({ resource = [], operation = [] }) => [
    ...resource.flatMap((one) => definitionsOf(one, frame)),
    ...operation.map((one) => toOperationDefinition(null, ['system'], one, frame)),
  ]);
  return definitions.sort((a, b) => ((a.id ?? '') < (b.id ?? '') ? -1 : 1));
}
