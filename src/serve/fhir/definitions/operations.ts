/** The parameters of the operations as they are taken here, by their codes. */
import type { OperationDefinitionParameter } from 'fhir/r4.js';

type Takes = readonly [name: string, min: number, max: string, type: string];

/** Where an operation is called, and with what. What it returns is one resource of that type. */
interface OperationFacts {
  readonly takes: readonly Takes[];
  readonly gives: readonly Takes[];
}

export const OPERATION_FACTS: Readonly<Record<string, OperationFacts>> = {
  lastn: {
    takes: [['max', 0, '1', 'positiveInt']],
    gives: [['return', 1, '1', 'Bundle']],
  },
  stats: {
    takes: [
      ['subject', 1, '1', 'uri'],
      ['code', 0, '*', 'string'],
      ['system', 0, '1', 'uri'],
      ['coding', 0, '*', 'Coding'],
      ['duration', 0, '1', 'decimal'],
      ['period', 0, '1', 'Period'],
      ['statistic', 1, '*', 'code'],
      ['include', 0, '1', 'boolean'],
      ['limit', 0, '1', 'positiveInt'],
    ],
    gives: [
      ['statistics', 1, '*', 'Observation'],
      ['source', 0, '*', 'Observation'],
    ],
  },
  export: {
    takes: [
      ['_outputFormat', 0, '1', 'string'],
      ['_since', 0, '1', 'instant'],
      ['_until', 0, '1', 'instant'],
      ['_type', 0, '*', 'string'],
      ['_typeFilter', 0, '*', 'string'],
    ],
    gives: [],
  },
  status: {
    takes: [
      ['id', 0, '*', 'id'],
      ['status', 0, '*', 'code'],
    ],
    gives: [['return', 1, '1', 'Bundle']],
  },
  events: {
    takes: [
      ['eventsSinceNumber', 0, '1', 'string'],
      ['eventsUntilNumber', 0, '1', 'string'],
      ['content', 0, '1', 'code'],
    ],
    gives: [['return', 1, '1', 'Bundle']],
  },
};

export function parametersOf(code: string): OperationDefinitionParameter[] {
  const { takes = [], gives = [] } = OPERATION_FACTS[code] ?? {};
  const written = (use: 'in' | 'out') => (one: Takes) => {
    const [name, min, max, type] = one;
    return { name, use, min, max, type } as OperationDefinitionParameter;
  };
  return [...takes.map(written('in')), ...gives.map(written('out'))];
}
