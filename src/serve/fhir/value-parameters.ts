/** Search parameters of Observation for values, and for the reasons why there are none. */
import type { ObservationCondition } from '../../store/observation-conditions.js';
import type { Where, WhyAbsent } from '../../store/value-conditions.js';
import { ABSENT_REASONS, METHODS } from '../../vitals/words.js';
import { methodConcept } from '../../vitals/codes.js';
import { kindsWithComponentCode, valuesOf, valuesWithCode } from './code-index.js';
import { ABSENT_CONCEPTS, IN_ERROR, NO_LONGER, codeable } from './render-codings.js';
import { DEFINITIONS } from './search-parameter.js';
import type { SearchParameter } from './search-parameter.js';
import { demandsOf, readQuantity } from './search-quantity.js';
import { matchesToken, readToken, splitComposite } from './token-values.js';
import type { Token } from './token-values.js';
import type { CodeableConcept } from 'fhir/r4.js';

type Parameter = SearchParameter<ObservationCondition>;

/** A quantity is compared with every number that it may be: up to twenty comparisons a row. */
const QUANTITY_COST = 20;

const WHERE_WORDS: Readonly<Record<Where, string>> = {
  own: 'of the Observation itself',
  component: 'of a component',
  any: 'of the Observation itself or of a component',
};

function quantity(name: string, where: Where): Parameter {
  return {
    name,
    type: 'quantity',
    definition: `${DEFINITIONS}Observation-${name}`,
    documentation: `The value ${WHERE_WORDS[where]}: [prefix]number, or with |http://unitsofmeasure.org|code. Every unit that senders may use is converted; a value entered in it is told apart as it was entered.`,
    cost: QUANTITY_COST,
    condition: (values) => ({
      on: 'value',
      values: values.flatMap((value) => demandsOf(readQuantity(value), valuesOf(where))),
    }),
  };
}

function codeAndQuantity(name: string, where: Where): Parameter {
  return {
    name,
    type: 'composite',
    definition: `${DEFINITIONS}Observation-${name}`,
    documentation: `Code and value ${WHERE_WORDS[where]}, both in the same place: code$[prefix]number, e.g. 8480-6$gt140.`,
    cost: QUANTITY_COST,
    condition: (values) => ({
      on: 'value',
      values: values.flatMap((value) => {
        const [code, asked] = splitComposite(value);
        return demandsOf(readQuantity(asked), valuesWithCode(where, [readToken(code)]));
      }),
    }),
  };
}

function isMet(tokens: readonly Token[], { coding = [] }: CodeableConcept): boolean {
  return coding.some(({ system = '', code = '' }) =>
    tokens.some((token) => matchesToken(token, { system, code })),
  );
}

const ABSENCES: readonly (readonly [WhyAbsent, CodeableConcept])[] = [
  ...ABSENT_REASONS.map((word) => [word, ABSENT_CONCEPTS[word]] as const),
  ['in-error', IN_ERROR],
  ['outdated', NO_LONGER],
];

function absence(name: string, where: Where): Parameter {
  return {
    name,
    type: 'token',
    definition: `${DEFINITIONS}Observation-${name}`,
    documentation: `Why there is no value, ${WHERE_WORDS[where]}.`,
    condition: (values) => {
      const tokens = values.map(readToken);
      const met = ABSENCES.filter(([, concept]) => isMet(tokens, concept));
      return { on: 'absent', where, reasons: met.map(([word]) => word) };
    },
  };
}

export const VALUE_PARAMETERS: readonly Parameter[] = [
  {
    name: 'component-code',
    type: 'token',
    definition: `${DEFINITIONS}Observation-component-code`,
    documentation: 'Any coding of a component, e.g. systolic pressure.',
    condition: (values) => ({
      on: 'kind',
      kinds: kindsWithComponentCode(values.map(readToken)),
    }),
  },
  quantity('value-quantity', 'own'),
  quantity('component-value-quantity', 'component'),
  quantity('combo-value-quantity', 'any'),
  codeAndQuantity('code-value-quantity', 'own'),
  codeAndQuantity('component-code-value-quantity', 'component'),
  codeAndQuantity('combo-code-value-quantity', 'any'),
  absence('data-absent-reason', 'own'),
  absence('component-data-absent-reason', 'component'),
  absence('combo-data-absent-reason', 'any'),
  {
    name: 'method',
    type: 'token',
    definition: `${DEFINITIONS}Observation-method`,
    documentation: 'How it was measured, by the codes of Observation.method.',
    condition: (values) => {
      const tokens = values.map(readToken);
      const methods = METHODS.filter((word) => isMet(tokens, codeable(methodConcept(word))));
      return { on: 'method', methods };
    },
  },
];
