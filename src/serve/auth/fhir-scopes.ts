/**
 * Scopes for FHIR resources, SMART App Launch 2.2 §"Scopes for requesting FHIR Resources":
 * `system/<type or *>.<ordered subset of cruds>`, narrowed by search parameters (`?category=…&code=…`),
 * and the form of version 1 (`.read`, `.write`, `.*`), which is taken and given back as it was written.
 */
import { matchesToken, readToken, splitAlternatives } from '../fhir/token-values.js';
import type { Token } from '../fhir/token-values.js';

/** Types that a FHIR scope may name. A wildcard covers all but those in {@link NEVER_BY_WILDCARD}. */
export const FHIR_SCOPE_TYPES = [
  'Observation',
  'Patient',
  'Device',
  'Encounter',
  'Practitioner',
  'Location',
  'Group',
  'Provenance',
  'AuditEvent',
  'Subscription',
  'SearchParameter',
  'OperationDefinition',
] as const;
export type FhirScopeType = (typeof FHIR_SCOPE_TYPES)[number];

/** Who did what, and standing orders to send data out: asked for by name or not at all. */
const NEVER_BY_WILDCARD: readonly string[] = ['AuditEvent', 'Subscription'];

/**
 * What a scope may be narrowed by: parameters whose meaning hangs on nothing but the resource. A scope
 * with another one is not known, so that no narrowing is ever passed over.
 */
export const RESTRICTING_PARAMETERS = ['category', 'code', 'combo-code', 'status'] as const;
export type RestrictingParameter = (typeof RESTRICTING_PARAMETERS)[number];
const RESTRICTABLE_TYPE = 'Observation';

/** One demand of a scope: the parameter, and values of which one must be met, as they were escaped. */
export interface Restriction {
  readonly name: RestrictingParameter;
  readonly values: readonly string[];
  readonly text: string;
}

export interface FhirScopeParts {
  readonly type: string;
  /** Some of `cruds`, in that order. */
  readonly letters: string;
  /** All must be met; none: the scope is not narrowed. */
  readonly restrictions: readonly Restriction[];
}

/** SMART App Launch 2.2: what the suffixes of version 1 mean. */
const VERSION_1: Readonly<Record<string, string>> = { read: 'rs', write: 'cud', '*': 'cruds' };
const FORM = /^system\/([A-Z][A-Za-z]*|\*)\.([a-z]+|\*)(?:\?(.+))?$/;
const LETTERS = /^c?r?u?d?s?$/;
/** RFC 6749 §3.3: the characters of a scope. */
const CHARACTERS = /^[\x21\x23-\x5b\x5d-\x7e]{1,1000}$/;

function readRestriction(text: string): Restriction | null {
  const at = text.indexOf('=');
  const name = RESTRICTING_PARAMETERS.find((one) => one === text.slice(0, Math.max(at, 0)));
  if (name === undefined) return null;
  try {
    const values = splitAlternatives(decodeURIComponent(text.slice(at + 1)));
    values.forEach(readToken);
    return { name, values, text };
  } catch {
    return null;
  }
}

/** What a FHIR scope says; null: it is none that is known. */
export function parseFhirScope(scope: string): FhirScopeParts | null {
  const match = CHARACTERS.test(scope) ? FORM.exec(scope) : null;
  const [, type, suffix, query] = match ?? [];
  if (type === undefined || suffix === undefined) return null;
  if (type !== '*' && !(FHIR_SCOPE_TYPES as readonly string[]).includes(type)) return null;
  const mapped = VERSION_1[suffix];
  const letters = mapped ?? suffix;
  if (!LETTERS.test(letters)) return null;
  if (query === undefined) return { type, letters, restrictions: [] };
  // What is written cannot be narrowed, and version 1 knows nothing of narrowing.
  if (type !== RESTRICTABLE_TYPE || mapped !== undefined || /[cud]/.test(letters)) return null;
  const restrictions = query.split('&').map(readRestriction);
  return restrictions.includes(null)
    ? null
    : { type, letters, restrictions: restrictions.filter((one) => one !== null) };
}

/** Whether a scope for `granted` is one for `needed` too. */
export function coversType(granted: string, needed: string): boolean {
  return granted === needed || (granted === '*' && !NEVER_BY_WILDCARD.includes(needed));
}

function isTokenWithin(inner: Token, outer: Token): boolean {
  // A token without a system is met by codes of any, which one with a system does not allow.
  return inner.system === undefined
    ? outer.system === undefined && (outer.code === '' || outer.code === inner.code)
    : matchesToken(outer, { system: inner.system, code: inner.code });
}

function isWithin(inner: Restriction, outer: Restriction): boolean {
  const allowed = outer.values.map(readToken);
  return (
    inner.name === outer.name &&
    inner.values.every((value) => allowed.some((token) => isTokenWithin(readToken(value), token)))
  );
}

/** Whether one held scope allows a letter of what is asked for, with no less narrowing than its own. */
function allows(held: FhirScopeParts, asked: FhirScopeParts, letter: string): boolean {
  return (
    coversType(held.type, asked.type) &&
    held.letters.includes(letter) &&
    held.restrictions.every((outer) => asked.restrictions.some((inner) => isWithin(inner, outer)))
  );
}

/** Whether what is asked for is part of what is held; its letters may be spread over several scopes. */
export function isHeld(held: readonly FhirScopeParts[], asked: FhirScopeParts): boolean {
  return Array.from(asked.letters).every((letter) =>
    held.some((one) => allows(one, asked, letter)),
  );
}

function write({ type, letters, restrictions }: FhirScopeParts): string {
  const query = restrictions.map(({ text }) => text).join('&');
  return `system/${type}.${letters}${query === '' ? '' : `?${query}`}`;
}

/** What two scopes have in common, as a scope; null: nothing. */
export function intersect(one: FhirScopeParts, other: FhirScopeParts): string | null {
  const type = coversType(one.type, other.type) ? other.type : one.type;
  if (!coversType(one.type, type) || !coversType(other.type, type)) return null;
  const letters = Array.from(one.letters)
    .filter((letter) => other.letters.includes(letter))
    .join('');
  const restrictions = [...one.restrictions, ...other.restrictions];
  return letters === '' ? null : write({ type, letters, restrictions });
}
