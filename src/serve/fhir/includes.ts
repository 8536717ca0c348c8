/**
 * What comes along with the matches of a search (FHIR R4 §3.1.1.5.4): one table a type, which the parser
 * reads and the CapabilityStatement lists. Whatever is brought is asked of {@link maySee} first.
 */
import type { FhirResource } from 'fhir/r4.js';
import { includeEntry } from './bundle.js';
import type { IncludeName } from './parse-search.js';
import type { OutcomeIssue } from './render-outcome.js';
import type { FhirSite } from './site.js';
import { hasScope } from '../auth/scopes.js';
import { maySee } from './visibility.js';
import type { ShownResource } from './visibility.js';

/** A resource that comes along, with what its visibility is judged by. */
export interface Brought {
  readonly resource: FhirResource;
  readonly shown: ShownResource;
}

/** Something that may come along with rows of one type. */
export interface SearchInclude<Row> extends IncludeName {
  readonly load: (
    site: Pick<FhirSite, 'pool'>,
    rows: readonly Row[],
    asOfMs: number,
  ) => Promise<readonly Brought[]>;
}

/** The includes that were asked for, of those that are offered. */
export function wanted<Row>(
  offered: readonly SearchInclude<Row>[],
  names: readonly IncludeName[],
): SearchInclude<Row>[] {
  return offered.filter((one) => names.includes(one));
}

/**
 * Entries of what comes along with a page: each resource once, and none that is a match of the page.
 *
 * @param matches `Type/id` of the page's matches
 */
export async function includeEntries<Row>(
  site: Pick<FhirSite, 'pool' | 'baseUrl'>,
  includes: readonly SearchInclude<Row>[],
  rows: readonly Row[],
  matches: readonly string[],
  asOfMs: number,
  scopes: readonly string[],
): Promise<string[]> {
  if (rows.length === 0) return [];
  const lists = await Promise.all(includes.map((one) => one.load(site, rows, asOfMs)));
  const entries = new Map<string, string>();
  for (const { resource, shown } of lists.flat()) {
    const place = `${resource.resourceType}/${resource.id ?? ''}`;
    if (matches.includes(place) || entries.has(place) || !maySee(scopes, shown)) continue;
    entries.set(place, includeEntry(`${site.baseUrl}/${place}`, resource));
  }
  return [...entries.values()];
}

/** That something is left out must not be silent. */
export function leftOut(
  includes: readonly SearchInclude<never>[],
  scopes: readonly string[],
): OutcomeIssue[] {
  const types = includes.flatMap(({ type }) =>
    // Of Observations each is judged by itself.
    type === 'Observation' || hasScope(scopes, `system/${type}.r`) ? [] : [type],
  );
  return [...new Set(types)].map((type) => ({
    severity: 'information',
    code: 'suppressed',
    text: `The scopes of this token do not let it read ${type}: none was included.`,
  }));
}
