/** The configuration, read from the environment and checked. */
import type { z } from 'zod';
import { VARIABLES } from './config-variables.js';
import type { Variable } from './config-variables.js';
import { ConfigError } from '../errors.js';
import { isLoopbackHost } from '../outside/addresses.js';
import type { RoleScopes } from './read-roles.js';

type Variables = typeof VARIABLES;
type Name = keyof Variables;
type Value<N extends Name> =
  z.output<Variables[N]['read']> | (Variables[N] extends { fallback: string } ? never : undefined);

/** The checked configuration, frozen. */
export type Config = ReturnType<typeof readConfig>;

/**
 * Reads the configuration from environment variables.
 *
 * @throws ConfigError with one sentence about the first variable that cannot be used.
 */
export function readConfig(env: Readonly<Record<string, string | undefined>>) {
  const read = <N extends Name>(name: N): Value<N> => readVariable(name, env[name]);
  const certFile = read('HTTP_TLS_CERT');
  const keyFile = read('HTTP_TLS_KEY');
  const config = {
    databaseUrl: read('DATABASE_URL'),
    databaseSchema: read('DATABASE_SCHEMA'),
    dataDir: read('DATA_DIR'),
    host: read('HOST'),
    port: read('PORT'),
    /** Without a trailing slash; undefined: to be made from the port in use. */
    publicUrl: read('PUBLIC_URL'),
    tls: readTls(certFile, keyFile),
    /** Null: no listener is wanted. */
    mllpPort: read('MLLP_PORT'),
    mllpTls: readMllpTls(read('MLLP_TLS_CERT'), read('MLLP_TLS_KEY'), read('MLLP_TLS_CA')),
    /** Only this machine reaches the gateway. */
    isLocal: isLoopbackHost(read('HOST')),
    /** For Express's `trust proxy`. */
    trustedProxies: read('TRUSTED_PROXY') ?? [],
    authIssuer: read('AUTH_ISSUER'),
    /** Undefined: any host. */
    outsideHosts: read('OUTSIDE_HOSTS'),
    /** Undefined: none. */
    subscriberHosts: read('SUBSCRIBER_HOSTS'),
    outsideNetworks: read('OUTSIDE_NETWORKS') ?? [],
    outsideCaFile: read('OUTSIDE_CA'),
    siteZone: read('SITE_ZONE'),
    patientIdentifiers: read('PATIENT_IDENTIFIERS') ?? demoIdentifiers(read('DATABASE_URL')),
    bedsideUnits: read('BEDSIDE_UNITS') ?? {},
    bedsideIdleMinutes: read('BEDSIDE_IDLE_MINUTES'),
    holdMinutes: read('HOLD_MINUTES'),
    holdMinutesUnit: read('HOLD_MINUTES_UNIT'),
    tokenMinutes: read('TOKEN_MINUTES'),
    sessionIdleMinutes: read('SESSION_IDLE_MINUTES'),
    sessionHours: read('SESSION_HOURS'),
    /** Undefined: there is no provider that people sign in with. */
    provider: readProvider({
      SIGNIN_ISSUER: read('SIGNIN_ISSUER'),
      SIGNIN_CLIENT_ID: read('SIGNIN_CLIENT_ID'),
      SIGNIN_CLIENT_SECRET: read('SIGNIN_CLIENT_SECRET'),
      SIGNIN_ROLES: read('SIGNIN_ROLES'),
    }),
    signInScope: read('SIGNIN_SCOPE'),
    signInPrompt: read('SIGNIN_PROMPT'),
    personClaim: read('SIGNIN_PERSON_CLAIM'),
    personSystem: read('SIGNIN_PERSON_SYSTEM'),
    rolesClaim: read('SIGNIN_ROLES_CLAIM'),
    /** The people of the demo ward sign in by a password. */
    localSignIn: read('DATABASE_URL') === undefined && read('SIGNIN_ISSUER') === undefined,
    rateLimitPerMinute: read('RATE_LIMIT_PER_MINUTE'),
    logLevel: read('LOG_LEVEL'),
  } as const;
  if (!isLoopbackHost(config.host)) {
    requireOwnDatabase(config.host, config.databaseUrl);
    requireProtection(config.host, config.tls !== undefined || config.trustedProxies.length > 0);
  }
  return Object.freeze(config);
}

/** The invented ward has one kind of number. */
function demoIdentifiers(databaseUrl: string | undefined) {
  return databaseUrl === undefined ? [{ label: 'Hospital number', system: 'urn:example:mrn' }] : [];
}

function readVariable<N extends Name>(name: N, text: string | undefined): Value<N> {
  const variable: Variable<unknown> = VARIABLES[name];
  const held = text === undefined || text === '' ? variable.fallback : text;
  if (held === undefined) return undefined as Value<N>;
  const result = variable.read.safeParse(held);
  if (result.success) return result.data as Value<N>;
  const shown = variable.secret ? 'a value that is not shown here' : `“${held}”`;
  throw new ConfigError(`${name} holds ${shown}; it must be ${variable.allowed}.`);
}

function readTls(certFile: string | undefined, keyFile: string | undefined) {
  if (certFile !== undefined && keyFile !== undefined) return Object.freeze({ certFile, keyFile });
  if (certFile === undefined && keyFile === undefined) return undefined;
  const [missing, present] =
    certFile === undefined ? ['HTTP_TLS_CERT', 'HTTP_TLS_KEY'] : ['HTTP_TLS_KEY', 'HTTP_TLS_CERT'];
  throw new ConfigError(`${missing} is not set; it must be the path of a file, as ${present} is.`);
}

function readMllpTls(
  certFile: string | undefined,
  keyFile: string | undefined,
  caFile: string | undefined,
) {
  const files = { MLLP_TLS_CERT: certFile, MLLP_TLS_KEY: keyFile, MLLP_TLS_CA: caFile };
  const missing = Object.entries(files).flatMap(([name, file]) =>
    file === undefined ? [name] : [],
  );
  if (missing.length === 3) return undefined;
  if (certFile !== undefined && keyFile !== undefined && caFile !== undefined) {
    return Object.freeze({ certFile, keyFile, caFile });
  }
  throw new ConfigError(
    `${missing.join(' and ')} is not set; MLLP_TLS_CERT, MLLP_TLS_KEY and MLLP_TLS_CA go together, each the path of a file.`,
  );
}

interface ProviderVariables {
  readonly SIGNIN_ISSUER: string | undefined;
  readonly SIGNIN_CLIENT_ID: string | undefined;
  readonly SIGNIN_CLIENT_SECRET: string | undefined;
  readonly SIGNIN_ROLES: RoleScopes | undefined;
}

function readProvider(variables: ProviderVariables) {
  const { SIGNIN_ISSUER: issuer, SIGNIN_CLIENT_ID: clientId } = variables;
  const { SIGNIN_CLIENT_SECRET: clientSecret, SIGNIN_ROLES: roles } = variables;
  if (issuer === undefined) return undefined;
  if (clientId !== undefined && clientSecret !== undefined && roles !== undefined) {
    return Object.freeze({ issuer, clientId, clientSecret, roles });
  }
  const missing = Object.entries(variables).flatMap(([name, value]) =>
    value === undefined ? [name] : [],
  );
  throw new ConfigError(
    `${missing.join(' and ')} is not set; people cannot sign in with SIGNIN_ISSUER without it.`,
  );
}

function requireOwnDatabase(host: string, databaseUrl: string | undefined): void {
  if (databaseUrl !== undefined) return;
  throw new ConfigError(
    `HOST holds “${host}”, which other machines may reach; without DATABASE_URL it must be a ` +
      'loopback address such as 127.0.0.1, because demo data and their credentials stay on this machine.',
  );
}

function requireProtection(host: string, isProtected: boolean): void {
  if (isProtected) return;
  throw new ConfigError(
    `HOST holds “${host}”, which other machines may reach; without HTTP_TLS_CERT and HTTP_TLS_KEY, ` +
      'or TRUSTED_PROXY, it must be a loopback address such as 127.0.0.1.',
  );
}
