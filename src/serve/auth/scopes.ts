/**
 * Scopes: the gateway's own words, and SMART App Launch v2 (§"Scopes for requesting FHIR Resources")
 * for FHIR: `system/<type or *>.<ordered subset of cruds>`.
 */

export const GATEWAY_SCOPES = [
  'sets.write',
  'sets.check',
  'bedside',
  'review.read',
  'review.write',
  'export.read',
  'people.read',
  'rules.read',
  'rules.write',
  'rules.approve',
  'admin',
  'metrics.read',
] as const;
export type GatewayScope = (typeof GATEWAY_SCOPES)[number];

/** A SMART v2 system scope, e.g. `system/Observation.rs`. */
export type FhirScope = `system/${string}.${string}`;
export type Scope = GatewayScope | FhirScope;

/** Types that a FHIR scope may name. A wildcard covers all but those in {@link NEVER_BY_WILDCARD}. */
export const FHIR_SCOPE_TYPES = [
  'Observation',
  'Patient',
  'Device',
  'Encounter',
  'Practitioner',
  'Location',
  'Provenance',
  'AuditEvent',
  'Subscription',
] as const;

/** Who did what, and standing orders to send data out: asked for by name or not at all. */
const NEVER_BY_WILDCARD: readonly string[] = ['AuditEvent', 'Subscription'];

const FHIR_SCOPE = /^system\/([A-Z][A-Za-z]*|\*)\.(c?r?u?d?s?)$/;

interface ParsedFhirScope {
  readonly type: string;
  readonly letters: string;
}

function parseFhirScope(scope: string): ParsedFhirScope | null {
  const match = FHIR_SCOPE.exec(scope);
  const [, type, letters] = match ?? [];
  if (type === undefined || letters === undefined || letters === '') return null;
  return { type, letters };
}

/** Whether the gateway knows this scope, so that a client may be given it. */
export function isKnownScope(scope: string): scope is Scope {
  if ((GATEWAY_SCOPES as readonly string[]).includes(scope)) return true;
  const parsed = parseFhirScope(scope);
  if (parsed === null) return false;
  return parsed.type === '*' || (FHIR_SCOPE_TYPES as readonly string[]).includes(parsed.type);
}

function covers(granted: ParsedFhirScope, needed: ParsedFhirScope): boolean {
  const typeCovered =
    granted.type === needed.type ||
    (granted.type === '*' && !NEVER_BY_WILDCARD.includes(needed.type));
  return (
    typeCovered && Array.from(needed.letters).every((letter) => granted.letters.includes(letter))
  );
}

/**
 * Whether the granted scopes allow what `needed` names. The letters of a FHIR scope may be spread
 * over several granted scopes; a wildcard never includes AuditEvent or Subscription.
 */
export function hasScope(granted: readonly string[], needed: Scope): boolean {
  if (granted.includes(needed)) return true;
  const wanted = parseFhirScope(needed);
  if (wanted === null) return false;
  const parsed = granted.map(parseFhirScope).filter((scope) => scope !== null);
  return Array.from(wanted.letters).every((letter) =>
    parsed.some((scope) => covers(scope, { type: wanted.type, letters: letter })),
  );
}

/** For whoever named a scope that there is not. */
export const KNOWN_SCOPES_SENTENCE = `Known scopes: ${GATEWAY_SCOPES.join(' ')}, and for FHIR system/TYPE.LETTERS, with TYPE one of ${FHIR_SCOPE_TYPES.join(' ')} or *, and LETTERS some of cruds in that order.`;
