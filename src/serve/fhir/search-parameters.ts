/**
 * The search parameters: this table is what the parser reads, what the store is asked by and what the
 * CapabilityStatement lists. FHIR R4 §3.1.1.4 and the SearchParameter resources of 4.0.1.
 */
import type { PatientCondition } from '../../store/find-patients.js';
import type { ObservationCondition } from '../../store/observation-conditions.js';
import type { PlaceInSet } from '../../store/place-conditions.js';
import { shownBy } from '../../store/shown-observations.js';
import { OBSERVATION_STATUSES } from '../../vitals/words.js';
import { kindsWithCode, kindsWithComboCode } from './code-index.js';
import { EMPTY_PARAMETERS } from './empty-parameters.js';
import { kindsWithProfile } from './profile-index.js';
import { REFERENCE_PARAMETERS } from './reference-parameters.js';
import { URI_SYSTEM } from './render-observation.js';
import { TAGS, VITAL_SIGNS_CATEGORY } from './render-codings.js';
import {
  DEFINITIONS,
  knownIds,
  readIdentifierTokens,
  toIdentifierToken,
} from './search-parameter.js';
import type { ParameterReader, SearchContext, SearchParameter } from './search-parameter.js';
import { readTime, resolveTime, timeRanges } from './search-times.js';
import { isId } from './site.js';
import { ValueFault, matchesToken, readPlain, readToken } from './token-values.js';
import { VALUE_PARAMETERS } from './value-parameters.js';

const STATUS_SYSTEM = 'http://hl7.org/fhir/observation-status';

function statusCondition(values: readonly string[]): ObservationCondition {
  const tokens = values.map(readToken);
  const statuses = OBSERVATION_STATUSES.filter((code) =>
    tokens.some((token) => matchesToken(token, { system: STATUS_SYSTEM, code })),
  );
  return { on: 'status', statuses };
}

function categoryCondition(values: readonly string[]): ObservationCondition | null {
  const tokens = values.map(readToken);
  const met = tokens.some((token) =>
    (VITAL_SIGNS_CATEGORY.coding ?? []).some(({ system = '', code = '' }) =>
      matchesToken(token, { system, code }),
    ),
  );
  return met ? null : { on: 'kind', kinds: [] };
}

function tagCondition(values: readonly string[]): ObservationCondition {
  const tokens = values.map(readToken);
  const names = [
    'unreviewed',
    'unconfirmed',
    'doubtful-signal',
    'unsettled-members',
    'late-arrival',
  ] as const;
  const doubts = names.filter((name) => tokens.some((token) => matchesToken(token, TAGS[name])));
  return { on: 'doubt', doubts };
}

const PLACE = /^urn:uuid:([^#]+)(?:#(0|[1-9]\d{0,3}))?$/;

/**
 * The identifiers that the renderer gives, the set as a URI and the place in it or the set alone, and
 * those that senders gave.
 */
function placeCondition(values: readonly string[]): ObservationCondition {
  const tokens = values.map(readToken);
  const places = tokens.flatMap(({ system, code }): PlaceInSet[] => {
    const [, setId, index] = PLACE.exec(code) ?? [];
    const ofUris = system === undefined || system === URI_SYSTEM;
    return ofUris && setId !== undefined && isId(setId)
      ? [{ setId, index: index === undefined ? null : Number(index) }]
      : [];
  });
  return { on: 'place-in-set', places, named: tokens.map(toIdentifierToken) };
}

export const OBSERVATION_PARAMETERS: readonly SearchParameter<ObservationCondition>[] = [
  ...REFERENCE_PARAMETERS,
  {
    name: 'category',
    type: 'token',
    definition: `${DEFINITIONS}Observation-category`,
    documentation: 'Every Observation here has the category vital-signs.',
    condition: categoryCondition,
  },
  {
    name: 'code',
    type: 'token',
    definition: `${DEFINITIONS}clinical-code`,
    documentation: 'Any coding of Observation.code; codes of components are found by combo-code.',
    condition: (values) => ({ on: 'kind', kinds: kindsWithCode(values.map(readToken)) }),
  },
  {
    name: 'combo-code',
    type: 'token',
    definition: `${DEFINITIONS}Observation-combo-code`,
    documentation: 'Any coding of Observation.code or of a component, e.g. systolic pressure.',
    condition: (values) => ({ on: 'kind', kinds: kindsWithComboCode(values.map(readToken)) }),
  },
  ...VALUE_PARAMETERS,
  {
    name: 'date',
    type: 'date',
    definition: `${DEFINITIONS}clinical-date`,
    documentation:
      'When it was measured, to the millisecond; values without an offset are times of the site.',
    condition: (values, context) => ({ on: 'taken', ranges: timeRanges(values, context) }),
    resolve: resolveTime,
  },
  {
    name: 'status',
    type: 'token',
    definition: `${DEFINITIONS}Observation-status`,
    documentation: 'Settled facts are final,amended,corrected,entered-in-error.',
    condition: statusCondition,
  },
  {
    name: 'identifier',
    type: 'token',
    definition: `${DEFINITIONS}clinical-identifier`,
    documentation:
      'What the sender gave it, or the set of the sender and the place in it, counted from 0: urn:uuid:SET-ID#INDEX; of a panel urn:uuid:SET-ID.',
    condition: placeCondition,
  },
  {
    name: '_id',
    type: 'token',
    definition: `${DEFINITIONS}Resource-id`,
    documentation: 'Logical ids.',
    condition: (values) => ({
      on: 'id',
      ids: values.map(readPlain).filter((id) => shownBy(id) !== null),
    }),
  },
  {
    name: '_lastUpdated',
    type: 'date',
    definition: `${DEFINITIONS}Resource-lastUpdated`,
    documentation:
      'When the version became visible; every publication, correction and withdrawal moves it, and no two commits share it.',
    condition: (values, context) => ({ on: 'stamp', ranges: timeRanges(values, context) }),
    resolve: resolveTime,
  },
  {
    name: '_tag',
    type: 'token',
    definition: `${DEFINITIONS}Resource-tag`,
    documentation:
      'unreviewed, unconfirmed or doubtful-signal: why an Observation is preliminary; unsettled-members: why a panel is; or late-arrival.',
    condition: tagCondition,
  },
  ...EMPTY_PARAMETERS,
  {
    name: '_profile',
    type: 'uri',
    definition: `${DEFINITIONS}Resource-profile`,
    documentation: 'A profile that the Observation names in its meta.',
    condition: (values) => ({ on: 'kind', kinds: kindsWithProfile(values.map(readPlain)) }),
  },
];

export const PATIENT_PARAMETERS: readonly SearchParameter<PatientCondition>[] = [
  {
    name: 'identifier',
    type: 'token',
    definition: `${DEFINITIONS}Patient-identifier`,
    documentation: 'An identifier that the patient was ever registered with.',
    condition: (values) => ({ on: 'identifier', tokens: readIdentifierTokens(values) }),
  },
  {
    name: '_id',
    type: 'token',
    definition: `${DEFINITIONS}Resource-id`,
    documentation: 'Logical ids.',
    condition: (values) => ({ on: 'id', ids: knownIds(values) }),
  },
];

/** `_since`: an instant, from which versions count. The demand is that moment in ms since the epoch. */
function sinceMs(values: readonly string[], context: SearchContext): number {
  const [value = '', ...more] = values;
  if (more.length > 0) throw new ValueFault('takes one instant');
  if (/^[a-z]/.test(value)) throw new ValueFault('takes no prefix');
  return readTime(value, context).fromMs;
}

export const HISTORY_PARAMETERS: readonly ParameterReader<number>[] = [
  { name: '_since', condition: sinceMs, resolve: resolveTime },
];
