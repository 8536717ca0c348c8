/** Who somebody is and what the person may do, from what the provider says of them. */
import { z } from 'zod';
import type { GatewayScope } from '../auth/scopes.js';
import type { Identifier } from '../../vitals/shapes.js';
import type { Claims } from './provider.js';

export interface ClaimSettings {
  readonly personClaim: string;
  /** System of the identifier in that claim. */
  readonly personSystem: string;
  readonly rolesClaim: string;
  readonly roles: ReadonlyMap<string, readonly GatewayScope[]>;
}

export interface ClaimedPerson {
  readonly person: Identifier;
  readonly name: string;
  readonly scopes: readonly GatewayScope[];
}

/** Printable, and not so long that it could be anything else than an identifier. */
const IDENTIFIER = /^[^\p{C}]{1,255}$/u;
const MAX_NAME_CHARACTERS = 100;
const Roles = z.union([z.array(z.string()), z.string().transform((text) => text.split(/[\s,]+/))]);

/** A claim by its name, or by a path of names. */
function claimAt(claims: Claims, name: string): unknown {
  if (Object.hasOwn(claims, name)) return claims[name];
  let inner: unknown = claims;
  for (const step of name.split('.')) {
    if (typeof inner !== 'object' || inner === null || !Object.hasOwn(inner, step))
      return undefined;
    inner = (inner as Claims)[step];
  }
  return inner;
}

/** Whether claims lack something that is to be read from them. */
export function lacksClaims({ personClaim, rolesClaim }: ClaimSettings, claims: Claims): boolean {
  const asked = [personClaim, rolesClaim].map((name) => claimAt(claims, name));
  return asked.includes(undefined) || typeof claims.name !== 'string';
}

function nameIn(claims: Claims, fallback: string): string {
  const said = [claims.name, claims.preferred_username].find((one) => typeof one === 'string');
  const name = typeof said === 'string' ? said.replace(/\p{C}/gu, ' ').trim() : '';
  return (name === '' ? fallback : name).slice(0, MAX_NAME_CHARACTERS);
}

/** Null: the claim has no identifier that can be kept. Without a known role the scopes are none. */
export function readPerson(settings: ClaimSettings, claims: Claims): ClaimedPerson | null {
  const value = claimAt(claims, settings.personClaim);
  if (typeof value !== 'string' || !IDENTIFIER.test(value)) return null;
  const named = Roles.safeParse(claimAt(claims, settings.rolesClaim)).data ?? [];
  const scopes = named.flatMap((role) => settings.roles.get(role) ?? []);
  return {
    person: { system: settings.personSystem, value },
    name: nameIn(claims, value),
    scopes: [...new Set(scopes)],
  };
}
