/** What is handed to this stage: the entries of a Bundle, or one Observation as the only entry. */
import type { Identifier } from '../../vitals/shapes.js';
import type { SourceProfile } from '../../vitals/source-profile.js';
import type { Digits } from './read-exact-json.js';

export type Json = Readonly<Record<string, unknown>>;

/** One resource to be created, or a Device to be told again. */
export interface SentEntry {
  /** Its place, counted from 0. */
  readonly index: number;
  /** The same for people: `entry 2`. */
  readonly at: string;
  /** FHIRPath of the resource: `Bundle.entry[2].resource`. */
  readonly path: string;
  readonly fullUrl: string | null;
  /** An object; the form of an Observation was checked, that of other resources was not. */
  readonly resource: Json;
  /** Identifiers of a conditional create or update; null: it is neither. */
  readonly criteria: readonly Identifier[] | null;
}

export interface Surroundings {
  /** Only in a transaction do references lead from entry to entry. */
  readonly linked: boolean;
  /** Base of this server, without a slash at its end. */
  readonly baseUrl: string;
  readonly profile: SourceProfile;
  /** Who signed in, if the sender is a person: nobody else recorded what comes. */
  readonly person: Identifier | null;
  readonly digits: Digits;
  /** Identifiers in a query such as `identifier=system|value`; a text: what is wrong with it. */
  readonly readCriteria: (query: string) => readonly Identifier[] | string;
}

export function asObject(value: unknown): Json {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
    ? (value as Json)
    : {};
}

export function asList(value: unknown): readonly unknown[] {
  return Array.isArray(value) ? value : [];
}

export function asText(value: unknown): string | undefined {
  return typeof value === 'string' && value.trim() !== '' ? value : undefined;
}
