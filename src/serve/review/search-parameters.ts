/** The search parameters as the published document shows them. */
import { REVIEW_STATES } from '../../store/review-search.js';
import { VERDICTS, VITALS } from '../../vitals/words.js';
import type { ParameterSpec, SchemaRef } from '../http/route.js';
import { MAX_LIMIT } from './read-search.js';

const TIME = { type: 'string', format: 'date-time' };

function query(name: string, description: string, schema: SchemaRef): ParameterSpec {
  return { name, in: 'query', description, schema };
}

function words(list: readonly string[]): SchemaRef {
  return { type: 'array', items: { type: 'string', enum: list } };
}

/** `from` and `to` of one time. */
export function timeParameters(name: string, what: string): ParameterSpec[] {
  return [
    query(`${name}From`, `${what} at this time or later.`, TIME),
    query(`${name}To`, `${what} before this time.`, TIME),
  ];
}

export const PAGE_PARAMETERS: readonly ParameterSpec[] = [
  query('limit', 'How many at most; 50 when absent.', {
    type: 'integer',
    minimum: 1,
    maximum: MAX_LIMIT,
  }),
  query('cursor', 'The `next` of the page before, with all its other parameters.', {
    type: 'string',
  }),
];

export const SOURCE_PARAMETER = query('source', 'Name of the source that sent it.', {
  type: 'string',
});

/** What an address may search readings by. */
export const SEARCH_PARAMETERS: readonly ParameterSpec[] = [
  query(
    'state',
    '`waiting`: held, and nobody downstream sees it. `out`: held, and out as preliminary. `decided`: no longer held, and somebody decided about it. `rejected`: by the rules, and nobody has decided about it.',
    { type: 'string', enum: REVIEW_STATES },
  ),
  query(
    'verdict',
    'Any of these, joined by commas; held and rejected when neither this nor `state` is given.',
    words(VERDICTS),
  ),
  query('critical', 'Whether the value is critical.', { type: 'boolean' }),
  query('rule', 'A finding of this rule stands on it.', { type: 'string' }),
  query('vital', 'Any of these, joined by commas.', words(VITALS)),
  SOURCE_PARAMETER,
  query('location', 'This place and all inside it: `larkfield` has `larkfield/12`.', {
    type: 'string',
  }),
  query('device', 'The device that measured it, as `system|value`.', { type: 'string' }),
  ...timeParameters('taken', 'Taken'),
  ...timeParameters('changed', 'Received or last changed (decided ones: last decided about)'),
  query(
    'sort',
    '`urgency` (held ones only, and the order of these when absent): critical first, what is not out before what is, then the earliest due. `newest`: the newest change first.',
    { type: 'string', enum: ['urgency', 'newest'] },
  ),
  ...PAGE_PARAMETERS,
];

/** The same as members of a body, and the patient, who is never named in an address. */
export const SEARCH_BODY: SchemaRef = {
  type: 'object',
  additionalProperties: false,
  properties: {
    patient: {
      description: 'An identifier of the patient.',
      type: 'object',
      required: ['system', 'value'],
      additionalProperties: false,
      properties: { system: { type: 'string' }, value: { type: 'string' } },
    },
    ...Object.fromEntries(
      SEARCH_PARAMETERS.map(({ name, description, schema }) => [
        name,
        { description, ...(schema as object) },
      ]),
    ),
  },
};
