import type { Logger } from 'pino';
import type { FailureLimit } from '../auth/failure-limit.js';
import type { KeyRing } from '../auth/key-ring.js';
import type { CookieJar } from '../http/cookies.js';
import type { Pool } from '../../store/pool.js';
import type { Provider } from './provider.js';
import type { ClaimSettings } from './read-claims.js';
import type { Sessions } from './sessions.js';

export interface ProviderSignIn {
  readonly provider: Provider;
  readonly claims: ClaimSettings;
  readonly cookies: CookieJar;
  readonly log: Pick<Logger, 'warn'>;
}

export interface SignInServices {
  readonly pool: Pool;
  readonly sessions: Sessions;
  readonly keys: KeyRing;
  readonly publicUrl: string;
  readonly tokenMinutes: number;
  /** People of the demo sign in by a password. */
  readonly localSignIn: boolean;
  readonly failures: FailureLimit;
  /** Null: no OpenID provider is set up. */
  readonly provider: ProviderSignIn | null;
}
