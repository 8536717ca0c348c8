/**
 * What the scopes of a token let its holder see of the Observations. Scopes may be narrowed by search
 * parameters; whoever shows Observations by any road asks here, for one (`maySee`) or for a list
 * (`visibleOnly`). A version is judged by what it says itself, not by what the newest one says.
 */
import type { ObservationCondition, ObservationKind } from '../../store/observation-conditions.js';
import { statusOf } from '../../store/shown-observations.js';
import type { ObservationVersion } from '../../store/shown-observations.js';
import type { FhirScope } from '../auth/scopes.js';
import { hasScope, restrictionsOn } from '../auth/scopes.js';
import type { FhirScopeType, Restriction } from '../auth/fhir-scopes.js';
import { OBSERVATION_PARAMETERS } from './search-parameters.js';
import type { SearchContext } from './search-parameter.js';

/** Parameters that narrow a scope mean the same at any time and place. */
const NO_CONTEXT: SearchContext = { siteMs: () => 0, nowMs: 0, baseUrl: '' };

function demandOf({ name, values }: Restriction): ObservationCondition[] {
  const parameter = OBSERVATION_PARAMETERS.find((one) => one.name === name);
  if (parameter === undefined) throw new Error(`no search parameter is called ${name}`);
  const demand = parameter.condition(values, NO_CONTEXT);
  return demand === null ? [] : [demand];
}

/** Lists of demands, of which one must be met; null: everything may be seen. */
function demandLists(
  scopes: readonly string[],
  letter: 'r' | 's',
): readonly (readonly ObservationCondition[])[] | null {
  const lists = restrictionsOn(scopes, 'Observation', letter).map((one) => one.flatMap(demandOf));
  return lists.some((list) => list.length === 0) ? null : lists;
}

/**
 * The demands that narrow a search, a count or a history to what the scopes let see; none: to nothing less
 * than all. Without any scope of the letter nothing is met by them.
 *
 * @param letter `s` for searches and the history of the type, `r` for the history of one Observation
 */
export function visibleOnly(
  scopes: readonly string[],
  letter: 'r' | 's',
): readonly ObservationCondition[] {
  const of = demandLists(scopes, letter);
  return of === null ? [] : [{ on: 'any', of }];
}

/** What a Provenance can be about. */
export type ShownTarget =
  | { readonly type: 'Observation'; readonly version: ObservationVersion }
  | { readonly type: 'Patient' };

/** A resource that somebody is to be shown; an Observation is looked at, others are judged by their type. */
export type ShownResource =
  | ShownTarget
  /** Shown to those who may read it and what it is about: it tells of that. */
  | { readonly type: 'Provenance'; readonly target: ShownTarget }
  | { readonly type: Exclude<FhirScopeType, 'Observation' | 'Provenance'> };

/** Whether the scopes let this resource be read: by itself, as an include, in an export, in a message. */
export function maySee(scopes: readonly string[], shown: ShownResource): boolean {
  if (shown.type !== 'Observation') {
    const needed: FhirScope = `system/${shown.type}.r`;
    return hasScope(scopes, needed) && (!('target' in shown) || maySee(scopes, shown.target));
  }
  const lists = demandLists(scopes, 'r');
  return lists === null || lists.some((list) => list.every((one) => meets(shown.version, one)));
}

/** The same as the store's SQL for the demands that a scope can make (the tests compare the two). */
function meets(version: ObservationVersion, demand: ObservationCondition): boolean {
  if (demand.on === 'kind') return demand.kinds.some((kind) => isOfKind(version, kind));
  if (demand.on !== 'status') throw new Error(`no scope is narrowed by ${demand.on}`);
  const status = statusOf(version);
  return status !== null && demand.statuses.includes(status);
}

function isOfKind(version: ObservationVersion, kind: ObservationKind): boolean {
  if ('panel' in kind) return version.shown === 'panel';
  if ('derived' in kind) return version.shown === kind.derived;
  const { vital, methods, sites, part } = kind;
  return (
    version.shown === 'reading' &&
    version.vital === vital &&
    (methods === null || methods.includes(version.method)) &&
    (sites === null || sites.includes(version.site)) &&
    (part === null || version.values[part] !== undefined)
  );
}
