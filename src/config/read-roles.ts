/** What roles at the site's OpenID provider allow here, as one line of configuration says it. */
import { GATEWAY_SCOPES } from '../serve/auth/scopes.js';
import type { GatewayScope } from '../serve/auth/scopes.js';

/** Scopes by the name of a role, as the provider calls it. */
export type RoleScopes = ReadonlyMap<string, readonly GatewayScope[]>;

function isGatewayScope(text: string): text is GatewayScope {
  return (GATEWAY_SCOPES as readonly string[]).includes(text);
}

/** Reads `ward nurses=bedside; analysts=review.read review.write`; null: it cannot be read so. */
export function readRoles(text: string): RoleScopes | null {
  const roles = new Map<string, readonly GatewayScope[]>();
  for (const part of text.split(';').filter((one) => one.trim() !== '')) {
    const [, name = '', list = ''] = /^([^=]+)=([^=]+)$/.exec(part) ?? [];
    const scopes = list.split(/[\s,]+/).filter((scope) => scope !== '');
    if (scopes.length === 0 || !scopes.every(isGatewayScope) || roles.has(name.trim())) return null;
    roles.set(name.trim(), scopes);
  }
  return roles.size === 0 ? null : roles;
}
