/** Who may call what, in the words of OpenAPI 3.1. */
import { TOKEN_PATH } from '../auth/paths.js';
import { describeScope, GATEWAY_SCOPES } from '../auth/scopes.js';
import { scopesAskedBy } from '../http/route.js';
import type { Area, Route } from '../http/route.js';
import type { OpenApiDocument, Operation } from './openapi-document.js';

/** Whose tokens are taken. */
export interface Issuers {
  readonly publicUrl: string;
  /** The issuer that AUTH_ISSUER names; null: there is none. */
  readonly outside: string | null;
}

const OWN = 'oauth';
const OUTSIDE = 'siteIssuer';

/** The ways to a token: that of the gateway, and that of the site's own provider if its tokens are taken. */
export function securitySchemes(
  areas: readonly Area[],
  { publicUrl, outside }: Issuers,
): OpenApiDocument['components']['securitySchemes'] {
  const names = [...new Set<string>([...GATEWAY_SCOPES, ...scopesAskedBy(areas)])];
  const scopes = Object.fromEntries(names.map((scope) => [scope, describeScope(scope)]));
  const own = {
    type: 'oauth2',
    description:
      'A bearer token of a registered client, which proves itself by its secret (`client_secret_basic`) or by an assertion that its key has signed (`private_key_jwt`).',
    flows: { clientCredentials: { tokenUrl: `${publicUrl}${TOKEN_PATH}`, scopes } },
  };
  if (outside === null) return { [OWN]: own };
  return {
    [OWN]: own,
    [OUTSIDE]: {
      type: 'openIdConnect',
      description:
        'An access token that the OpenID provider of the site made for this gateway, for a client that is registered here under the name it has there.',
      openIdConnectUrl: `${outside.replace(/\/$/, '')}/.well-known/openid-configuration`,
    },
  };
}

/** Each scope alone is enough (alternatives), unless the route needs all of them (one list). */
export function securityOf(route: Route, { outside }: Issuers): Operation['security'] {
  if (route.scopes === 'public') return [];
  const lists = route.needsAll ? [route.scopes] : route.scopes.map((scope) => [scope]);
  const schemes = outside === null ? [OWN] : [OWN, OUTSIDE];
  return lists.flatMap((list) => schemes.map((scheme) => ({ [scheme]: list })));
}
