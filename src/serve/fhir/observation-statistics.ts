/** The operation `$stats` of Observation (OperationDefinition Observation-stats, FHIR R4 4.0.1). */
import type { CodeableConcept, Observation, ParametersParameter } from 'fhir/r4.js';
import type { ObservationKind } from '../../store/observation-conditions.js';
import { findObservations } from '../../store/search-observations.js';
import type { ObservationSearch } from '../../store/search-observations.js';
import type { ObservationVersion } from '../../store/shown-observations.js';
import type { Part } from '../../vitals/words.js';
import { partsWithCode } from './code-index.js';
import type { NumberGroup } from './code-index.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import type { Pair } from './query-parameters.js';
import { MAX_SOURCES, readStatisticsRequest } from './read-statistics-request.js';
import type { StatisticsRequest } from './read-statistics-request.js';
import { refusal } from './refuse.js';
import { NO_LONGER, VITAL_SIGNS_CATEGORY } from './render-codings.js';
import { renderShown } from './render-derived.js';
import { isInError } from './render-value.js';
import { momentOf } from './search.js';
import type { FhirSite } from './site.js';
import type { Token } from './token-values.js';
import { isCount, reckon } from './statistics.js';
import type { StatisticCode } from './statistics.js';

const SYSTEM = 'http://terminology.hl7.org/CodeSystem/observation-statistics';
const UCUM = 'http://unitsofmeasure.org';
/** All but what was entered in error or never came to be. */
const COUNTED = ['preliminary', 'final', 'amended', 'corrected'] as const;

export async function observationStatistics(
  { pool, baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
): Promise<FhirAnswer> {
  const context = { siteMs, baseUrl, nowMs: Date.now() };
  const asked = readStatisticsRequest(pairs, context);
  const moment = await momentOf(pool, []);
  const groups = asked.codes.flatMap((code) => groupsOf(code));
  const parameter: ParametersParameter[] = [];
  const sources = new Map<string, ObservationVersion>();
  for (const group of groups) {
    const found = await findObservations(pool, {
      ...moment,
      conditions: conditionsOf(asked, group.kinds),
      ...{ sort: [{ by: 'taken', descending: true }], after: null, limit: MAX_SOURCES + 1 },
    });
    if (found.length > MAX_SOURCES) {
      const text = `More than ${MAX_SOURCES} Observations would be reckoned with.`;
      throw refusal(400, 'too-costly', text);
    }
    for (const version of found) sources.set(version.observationId, version);
    parameter.push({ name: 'statistics', resource: renderStatistics(asked, group, found) });
  }
  if (asked.include) {
    const shown = [...sources.values()].slice(0, asked.limit);
    parameter.push(...shown.map((one) => ({ name: 'source', resource: renderShown(one) })));
  }
  const rest = parameter.length === 0 ? {} : { parameter };
  const text = toFhirJson({ resourceType: 'Parameters', ...rest });
  return { status: 200, text, looked: { patientIds: [asked.patientId] } };
}

/** Leaving a code out would pass for the word that there is nothing under it. */
function groupsOf(code: Token): NumberGroup[] {
  const groups = partsWithCode(code);
  if (groups.length > 0) return groups;
  throw refusal(400, 'code-invalid', 'No number here has this code.', 'http.code');
}

/** The parameters of a Parameters resource, as they would stand in an address. */
export function pairsOfParameters(body: Readonly<Record<string, unknown>>): Pair[] {
  const { resourceType, parameter = [] } = body;
  if (resourceType !== 'Parameters' || !Array.isArray(parameter)) {
    throw refusal(400, 'structure', 'The body must be a Parameters resource.');
  }
  return parameter.map((one: unknown): Pair => {
    const { name, ...rest } = (one ?? {}) as Readonly<Record<string, unknown>>;
    const [[key, value] = ['', undefined], ...more] = Object.entries(rest);
    const text = key.startsWith('value') && more.length === 0 ? textOf(value) : null;
    if (typeof name !== 'string' || name === '' || text === null) {
      throw refusal(400, 'structure', 'A parameter has a name and one value, and no more.');
    }
    return [name, text];
  });
}

function textOf(value: unknown): string | null {
  if (typeof value === 'string') return value;
  if (typeof value === 'number' || typeof value === 'boolean') return String(value);
  if (typeof value !== 'object' || value === null) return null;
  const text = (part: unknown): string => (typeof part === 'string' ? part : '');
  const { system, code, start, end } = value as Readonly<Record<string, unknown>>;
  if (code !== undefined) {
    return system === undefined ? text(code) : `${text(system)}|${text(code)}`;
  }
  return start === undefined && end === undefined ? null : `${text(start)}/${text(end)}`;
}

function conditionsOf(
  { patientId, fromMs, toMs }: StatisticsRequest,
  kinds: readonly ObservationKind[],
): ObservationSearch['conditions'] {
  return [
    { on: 'patient', ids: [patientId] },
    { on: 'kind', kinds },
    { on: 'taken', ranges: [{ fromMs, toMs }] },
    { on: 'status', statuses: COUNTED },
  ];
}

/** A panel has no number. */
function numberText(version: ObservationVersion, part: Part): string | null | undefined {
  if (version.shown === 'panel') return null;
  if (version.shown !== 'reading') return version.derived?.[version.shown];
  return isInError(version, part) ? null : version.values[part];
}

function numberOf(version: ObservationVersion, part: Part): number | null {
  const text = numberText(version, part);
  return text === undefined || text === null ? null : Number(text);
}

function renderStatistics(
  { patientId, fromMs, toMs, statistics }: StatisticsRequest,
  { coding, display, part, row }: NumberGroup,
  found: readonly ObservationVersion[],
): Observation {
  const numbers = found.map((one) => numberOf(one, part)).filter((one) => one !== null);
  const doubted = found.filter(({ status }) => status === 'preliminary').length;
  const quantityOf = (code: StatisticCode, value: number): Observation['valueQuantity'] =>
    isCount(code)
      ? { value, unit: '1', system: UCUM, code: '1' }
      : {
          value,
          unit: row.unitText,
          system: UCUM,
          ...(row.unit === null ? {} : { code: row.unit }),
        };
  return {
    resourceType: 'Observation',
    status: 'final',
    // R4 §10.1.19: what has the code of a vital sign meets its profile, which asks for the category.
    category: [VITAL_SIGNS_CATEGORY],
    code: { coding: [coding], text: display },
    subject: { reference: `Patient/${patientId}`, type: 'Patient' },
    effectivePeriod: { start: new Date(fromMs).toISOString(), end: new Date(toMs).toISOString() },
    component: statistics.map((code) => {
      const value = reckon(code, numbers, found.length);
      const valueQuantity = value === null ? undefined : quantityOf(code, value);
      return {
        code: conceptOf(code),
        ...(valueQuantity === undefined ? { dataAbsentReason: NO_VALUE } : { valueQuantity }),
      };
    }),
    ...(doubted === 0 ? {} : { note: [{ text: `Of these, ${doubted} are preliminary.` }] }),
  };
}

/** Too few values for it. */
const NO_VALUE = NO_LONGER;

function conceptOf(code: StatisticCode): CodeableConcept {
  return { coding: [{ system: SYSTEM, code }], text: code };
}
