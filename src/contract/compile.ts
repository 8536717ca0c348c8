import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import addFormats from 'ajv-formats';
import type { Decision } from '../vitals/decisions.js';
import type { IncomingReferenceCheck } from '../vitals/reference-check.js';
import type { Fault, IncomingSet } from '../vitals/shapes.js';
import type { MappingProposal } from '../vitals/source-profile.js';
import type {
  EditionDecision,
  EditionProposal,
  SiteRules,
  TrialBody,
} from '../vitals/site-rules.js';
import { explainFaults, MAX_FAULTS } from './fault-words.js';
import { mappingFaults } from './mapping-faults.js';
import { settingFaults, settingsIn } from './setting-faults.js';
import { PUBLISHED_SCHEMAS, type SchemaName } from './schemas.js';

export { PUBLISHED_SCHEMAS };

const ajv = new Ajv2020({
  allErrors: true,
  // Errors then carry the data and the schema that they are about: the words are made from them.
  verbose: true,
  allowUnionTypes: true,
  strictTypes: false,
});
addFormats.default(ajv, ['date', 'date-time', 'uuid', 'uri-reference', 'json-pointer']);
ajv.addSchema(Object.values(PUBLISHED_SCHEMAS));

function validatorOf<T>(name: SchemaName): ValidateFunction<T> {
  const validate = ajv.getSchema<T>(PUBLISHED_SCHEMAS[name].$id);
  if (validate === undefined) throw new Error(`schema ${name} is not registered`);
  return validate;
}

const validateSet = validatorOf<IncomingSet>('vital-sign-set');
const validateDecision = validatorOf<Decision>('decision');
const validateOwnDecision = validatorOf<Decision>('own-decision');
const validateSiteRules = validatorOf<SiteRules>('site-rules');

/** Beyond this many readings none is looked at: what a hostile body can cost stays bounded. */
const MAX_READINGS = (
  PUBLISHED_SCHEMAS['vital-sign-set'] as unknown as {
    properties: { readings: { maxItems: number } };
  }
).properties.readings.maxItems;

interface Refused {
  readonly ok: false;
  readonly faults: readonly Fault[];
}
export type SetCheck = { readonly ok: true; readonly set: IncomingSet } | Refused;
/** `unsound`: ids of the settings that are at fault themselves. */
export type SiteRulesCheck =
  | { readonly ok: true; readonly rules: SiteRules }
  | (Refused & { readonly unsound: ReadonlySet<string> });
export type DecisionCheck = { readonly ok: true; readonly decision: Decision } | Refused;

/** Holds a parsed body against the schema of a set. Never throws; every fault is listed once. */
export function checkSet(value: unknown): SetCheck {
  const bounded = withFewReadings(value);
  if (validateSet(bounded) && bounded === value) return { ok: true, set: bounded };
  const faults = explainFaults(validateSet.errors ?? [], bounded);
  if (bounded === value) return { ok: false, faults };
  return { ok: false, faults: [TOO_MANY_READINGS, ...faults].slice(0, MAX_FAULTS) };
}

/** Holds a parsed body against the schema of an analyst's decision. Never throws. */
export function checkDecision(value: unknown): DecisionCheck {
  return decisionCheck(validateDecision, value);
}

/** Holds a parsed body against the schema of a sender's decision about its own reading. Never throws. */
export function checkOwnDecision(value: unknown): DecisionCheck {
  return decisionCheck(validateOwnDecision, value);
}

function decisionCheck(validate: ValidateFunction<Decision>, value: unknown): DecisionCheck {
  if (validate(value)) return { ok: true, decision: value };
  return { ok: false, faults: explainFaults(validate.errors ?? [], value) };
}

/**
 * Holds a parsed site configuration against its schema, and its settings against those that there are,
 * each in its own unit. Whether the limits make sense together is not asked here. Never throws.
 */
export function checkSiteRules(value: unknown): SiteRulesCheck {
  const fits = validateSiteRules(value);
  const errors = validateSiteRules.errors ?? [];
  const ofSettings = settingFaults(value);
  if (fits && ofSettings.length === 0) return { ok: true, rules: value };
  const faults = [...explainFaults(errors, value), ...ofSettings].slice(0, MAX_FAULTS);
  const pointers = [
    ...errors.map(({ instancePath }) => instancePath),
    ...ofSettings.map(({ pointer }) => pointer),
  ];
  return { ok: false, faults, unsound: settingsIn(pointers) };
}

/** The value, or every fault of it. */
type Check<T> = { readonly ok: true; readonly value: T } | Refused;

function checkerOf<T>(name: SchemaName): (value: unknown) => Check<T> {
  const validate = validatorOf<T>(name);
  return (value) =>
    validate(value)
      ? { ok: true, value }
      : { ok: false, faults: explainFaults(validate.errors ?? [], value) };
}

export const checkReferenceCheck = checkerOf<IncomingReferenceCheck>('reference-check');
/** In these the configuration is to be read as a whole as well: what the schema says of it is not all. */
export const checkEditionProposal = checkerOf<EditionProposal>('edition-proposal');
export const checkEditionDecision = checkerOf<EditionDecision>('edition-decision');
export const checkTrialRequest = checkerOf<TrialBody>('trial-request');

const checkProposalForm = checkerOf<MappingProposal>('mapping-proposal');

/** Holds a parsed body against the schema of a mapping's proposal, then the mapping against the catalogue. Never throws. */
export function checkMappingProposal(value: unknown): Check<MappingProposal> {
  const checked = checkProposalForm(value);
  const faults = checked.ok ? mappingFaults(checked.value.mapping) : [];
  if (faults.length === 0) return checked;
  return {
    ok: false,
    faults: faults
      .slice(0, MAX_FAULTS)
      .map(({ pointer, message }) => ({ pointer: `/mapping${pointer}`, message })),
  };
}

const TOO_MANY_READINGS: Fault = {
  pointer: '/readings',
  message: `a set takes at most ${MAX_READINGS} readings; send the others as another set`,
};

function withFewReadings(value: unknown): unknown {
  if (typeof value !== 'object' || value === null || !('readings' in value)) return value;
  const { readings } = value;
  if (!Array.isArray(readings) || readings.length <= MAX_READINGS) return value;
  return { ...value, readings: readings.slice(0, MAX_READINGS) as unknown[] };
}
