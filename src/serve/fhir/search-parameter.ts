/** What a search parameter is: how its values are read, and what the CapabilityStatement says of it. */
import type { WallTime } from '../../vitals/zone-time.js';
import type { IdentifierToken } from '../../store/identifier-token.js';
import { isId } from './site.js';
import { readPlain, readToken } from './token-values.js';
import type { Token } from './token-values.js';

/** What the meaning of a value depends on beside itself. */
export interface SearchContext {
  /** The moment at which the site's clocks show a wall time. */
  readonly siteMs: (wall: WallTime) => number;
  /** What `ap` measures from. */
  readonly nowMs: number;
  /** Base of absolute references to this server. */
  readonly baseUrl: string;
}

/** How the values of a parameter are read. */
export interface ParameterReader<Condition> {
  /** As it stands in the address, with its modifier or chain. */
  readonly name: string;
  /**
   * The demand of one occurrence, its values being alternatives, still escaped; null: everything
   * meets it.
   *
   * @throws ValueFault when a value is not of the parameter's type.
   */
  readonly condition: (values: readonly string[], context: SearchContext) => Condition | null;
  /** A value as it was understood, for the self link; absent: as it was sent. */
  readonly resolve?: (value: string, context: SearchContext) => string;
  /** How many plain values one of its values counts for; 1 when absent. */
  readonly cost?: number;
}

/** A parameter with what the CapabilityStatement says of it. */
export interface SearchParameter<Condition> extends ParameterReader<Condition> {
  readonly type: 'token' | 'date' | 'reference' | 'quantity' | 'composite' | 'uri' | 'string';
  /** Canonical of the SearchParameter resource of FHIR R4. */
  readonly definition: string;
  readonly documentation: string;
  /** The same with a modifier or a chain. */
  readonly forms?: readonly ParameterReader<Condition>[];
}

export const DEFINITIONS = 'http://hl7.org/fhir/SearchParameter/';

/** Every name that the parameters may stand under, with what reads it. */
export function readersOf<Condition>(
  parameters: readonly (ParameterReader<Condition> & Partial<SearchParameter<Condition>>)[],
): ReadonlyMap<string, ParameterReader<Condition>> {
  return new Map(
    parameters.flatMap((one) => [one, ...(one.forms ?? [])].map((each) => [each.name, each])),
  );
}

/** Ids of ours among the values: others lead to nothing and are no error. */
export function knownIds(values: readonly string[]): string[] {
  return values.map(readPlain).filter(isId);
}

/** What references to one type lead to: `id`, `Type/id`, or the absolute address here. */
export function referencedIds(
  values: readonly string[],
  type: string,
  { baseUrl }: SearchContext,
): string[] {
  return values.map(readPlain).map((value) => {
    const local = value.startsWith(`${baseUrl}/`) ? value.slice(baseUrl.length + 1) : value;
    return local.startsWith(`${type}/`) ? local.slice(type.length + 1) : local;
  });
}

export function toIdentifierToken({ system, code }: Token): IdentifierToken {
  return { system: system ?? null, value: code === '' ? null : code };
}

/** Reads identifiers. One without a system is never kept here. */
export function readIdentifierTokens(values: readonly string[]): IdentifierToken[] {
  return values.map(readToken).map(toIdentifierToken);
}
