/** The OpenID provider that people sign in with, as configuration names it. */
import type { Config } from '../config/config.js';
import type { FetchOutside } from '../outside/fetch-outside.js';
import type { AppServices } from '../serve/app.js';

/** Null: the site has set none up. */
export function providerOf(
  config: Config,
  fetch: FetchOutside | null,
  publicUrl: string,
): AppServices['provider'] {
  const { provider, signInScope: scope, signInPrompt: prompt } = config;
  const { personClaim, personSystem, rolesClaim } = config;
  if (provider === undefined || fetch === null) return null;
  return {
    ...{ ...provider, fetch, scope, prompt, personClaim, rolesClaim },
    personSystem: personSystem ?? provider.issuer,
    redirectUri: `${publicUrl}/signin/back`,
    signedOutUri: `${publicUrl}/signin/out`,
  };
}
