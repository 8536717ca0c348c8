/** Scopes: the gateway's own words, and SMART App Launch 2.2 for FHIR (`fhir-scopes.ts`). */
import {
  coversType,
  FHIR_SCOPE_TYPES,
  intersect,
  isHeld,
  parseFhirScope,
  RESTRICTING_PARAMETERS,
} from './fhir-scopes.js';
import type { FhirScopeParts, Restriction } from './fhir-scopes.js';

/** The gateway's own scopes, and what each allows. */
export const GATEWAY_SCOPE_WORDS = {
  'sets.write': 'Send sets; read, correct and withdraw own ones.',
  'sets.check': 'Have sets checked without sending them.',
  bedside: 'Check, send and correct as a person at the bedside.',
  'review.read': 'See held and rejected readings.',
  'review.write': 'Decide on readings.',
  'export.read': 'Take readings out as a table.',
  'people.read': 'See figures by person instead of by pseudonym.',
  'rules.read': 'See rules and limits.',
  'rules.write': 'Try and propose changes of rules.',
  'rules.approve': "Put somebody else's change of rules into force.",
  admin: 'Register clients and what they stand for.',
  'metrics.read': 'Read the figures of the process.',
} as const;

export type GatewayScope = keyof typeof GATEWAY_SCOPE_WORDS;
export const GATEWAY_SCOPES = Object.keys(GATEWAY_SCOPE_WORDS) as readonly GatewayScope[];

/** A SMART v2 system scope, e.g. `system/Observation.rs`. */
export type FhirScope = `system/${string}.${string}`;
export type Scope = GatewayScope | FhirScope;

function isGatewayScope(scope: string): scope is GatewayScope {
  return Object.hasOwn(GATEWAY_SCOPE_WORDS, scope);
}

/** Whether the gateway knows this scope, so that a client may be given it. */
export function isKnownScope(scope: string): scope is Scope {
  return isGatewayScope(scope) || parseFhirScope(scope) !== null;
}

/** FHIR scopes among others; what is not known counts for nothing. */
function fhirScopesIn(scopes: readonly string[]): FhirScopeParts[] {
  return scopes.map(parseFhirScope).filter((scope) => scope !== null);
}

/**
 * Whether the granted scopes allow what `needed` names, and without any narrowing. The letters of a FHIR
 * scope may be spread over several granted scopes; a wildcard never includes AuditEvent or Subscription.
 */
export function hasScope(granted: readonly string[], needed: Scope): boolean {
  return granted.includes(needed) || isAllowed(granted, needed);
}

/**
 * The same, narrowed scopes counted too: for who then shows no more than they let see
 * (`serve/fhir/visibility.ts`), and for nobody else.
 */
export function hasNarrowedScope(granted: readonly string[], needed: Scope): boolean {
  const wanted = parseFhirScope(needed);
  if (wanted === null) return hasScope(granted, needed);
  return Array.from(wanted.letters).every(
    (letter) => restrictionsOn(granted, wanted.type, letter).length > 0,
  );
}

/**
 * Whether a client that holds some scopes may be given another: it must allow nothing that they do not.
 */
export function isAllowed(held: readonly string[], asked: string): boolean {
  const wanted = parseFhirScope(asked);
  if (wanted === null) return isGatewayScope(asked) && held.includes(asked);
  return isHeld(fhirScopesIn(held), wanted);
}

/** What both lists allow. */
export function commonScopes(one: readonly string[], other: readonly string[]): string[] {
  const own = one.filter((scope) => isGatewayScope(scope) && other.includes(scope));
  const others = fhirScopesIn(other);
  const common = one.flatMap((scope) => {
    const parts = parseFhirScope(scope);
    if (parts === null) return [];
    // Whole where it is whole, so that it reads as it was granted.
    if (isHeld(others, parts)) return [scope];
    return others.map((held) => intersect(parts, held)).filter((piece) => piece !== null);
  });
  return [...new Set([...own, ...common])];
}

/**
 * What the granted scopes ask of a resource of this type before its holder may read (`r`) or find (`s`)
 * it: the demands of one of the lists, all of them. An empty list: nothing is asked; no list: no access.
 */
export function restrictionsOn(
  granted: readonly string[],
  type: string,
  letter: string,
): readonly (readonly Restriction[])[] {
  return fhirScopesIn(granted)
    .filter((scope) => coversType(scope.type, type) && scope.letters.includes(letter))
    .map(({ restrictions }) => restrictions);
}

/** What a scope allows, in a few words for the published document. */
export function describeScope(scope: string): string {
  if (isGatewayScope(scope)) return GATEWAY_SCOPE_WORDS[scope];
  const parts = parseFhirScope(scope);
  if (parts === null) return '';
  const verbs: Readonly<Record<string, string>> = {
    ...{ c: 'create', r: 'read', u: 'update', d: 'delete', s: 'search' },
  };
  const what = parts.type === '*' ? 'resources of most types' : `${parts.type} resources`;
  const words = Array.from(parts.letters, (letter) => verbs[letter]).join(', ');
  return `FHIR: ${words} ${what}.`;
}

/** For whoever named a scope that there is not. */
export const KNOWN_SCOPES_SENTENCE = `Known scopes: ${GATEWAY_SCOPES.join(' ')}, and for FHIR system/TYPE.LETTERS, with TYPE one of ${FHIR_SCOPE_TYPES.join(' ')} or *, and LETTERS some of cruds in that order; one for reading Observations may end in ?PARAMETER=VALUE, with PARAMETER one of ${RESTRICTING_PARAMETERS.join(' ')}.`;
