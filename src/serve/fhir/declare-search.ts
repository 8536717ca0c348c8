/** What the CapabilityStatement says of a search, from the tables that it is read by. */
import type {
  CapabilityStatementRestResource,
  CapabilityStatementRestResourceSearchParam,
} from 'fhir/r4.js';
import type { IncludeName } from './parse-search.js';
import type { SearchParameter } from './search-parameter.js';

export function declared({
  name,
  type,
  definition,
  documentation,
}: SearchParameter<unknown>): CapabilityStatementRestResourceSearchParam {
  return { name, type, definition, documentation };
}

/** `searchInclude` and `searchRevInclude`, as far as there are any. */
export function included(
  offered: readonly IncludeName[],
): Pick<CapabilityStatementRestResource, 'searchInclude' | 'searchRevInclude'> {
  const of = (by: IncludeName['by']): string[] =>
    offered.filter((one) => one.by === by).map(({ name }) => name);
  const [include, revInclude] = [of('_include'), of('_revinclude')];
  return {
    ...(include.length === 0 ? {} : { searchInclude: include }),
    ...(revInclude.length === 0 ? {} : { searchRevInclude: revInclude }),
  };
}
