/** What the routes of registration share: forms, words, and the one refusal of what is not there. */
import type { Request } from 'express';
import { z } from 'zod';
import { ExternalIdTaken } from '../../errors.js';
import type { AuditEntry } from '../../store/audit.js';
import type { Pool } from '../../store/pool.js';
import { HttpError } from '../http/http-error.js';
import { problemResponse } from '../http/responses.js';
import { isUuid, pathParameter } from '../http/route.js';
import type { Caller, ParameterSpec } from '../http/route.js';
import { ClientKeysForm } from './client-keys-form.js';
import { EXTERNAL_ID } from './outside-issuer.js';
import { isKnownScope, KNOWN_SCOPES_SENTENCE } from './scopes.js';

export interface ClientAdministration {
  readonly pool: Pool;
  /** Has the state of a client looked up anew that has just changed. */
  readonly forget: (clientId: string) => void;
  readonly audit: (entry: AuditEntry) => Promise<void>;
}

/** No control characters and no halves of a surrogate pair: the database takes no NUL, and nobody means the rest. */
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const PLAIN = /^[^\u0000-\u001f\u007f-\u009f\ud800-\udfff]*$/u;
const NAME = z.string().trim().min(1).max(200).regex(PLAIN, 'A name has no control characters.');
export const ExternalId = z
  .string()
  .regex(EXTERNAL_ID, 'It has 1 to 255 printable ASCII characters.');
export const NewClientBody = z.strictObject({
  name: NAME,
  scopes: z.array(z.string().refine(isKnownScope, KNOWN_SCOPES_SENTENCE)).min(1).max(64),
  source: z.strictObject({ name: NAME, attended: z.boolean() }),
  keys: ClientKeysForm.optional(),
  externalId: ExternalId.optional(),
});
export const ExternalIdBody = z.strictObject({ externalId: ExternalId.nullable() });
export const EndBody = z.strictObject({ endsAt: z.iso.datetime({ offset: true }).nullable() });

const SECRET = 'Absent where the client proves itself by keys.';
export const CREDENTIALS = {
  type: 'object',
  required: ['clientId'],
  properties: {
    clientId: { type: 'string' },
    clientSecret: { type: 'string', description: SECRET },
  },
};
export const NEW_CLIENT = {
  name: 'Record, pulling',
  scopes: ['system/*.rs'],
  source: { name: 'record', attended: true },
  keys: { jwksUrl: 'https://record.example/keys.json' },
};
export const CLIENT_ID: ParameterSpec = {
  name: 'clientId',
  in: 'path',
  description: 'Id of the client.',
  schema: { type: 'string' },
};
export const NO_SUCH_CLIENT = problemResponse('There is no such client.');

export function noSuchClient(): HttpError {
  return new HttpError({ status: 404, detail: 'There is no such client.' });
}

export function clientIdOf(req: Request): string {
  const clientId = pathParameter(req, 'clientId');
  if (!isUuid(clientId)) throw noSuchClient();
  return clientId;
}

/** Two clients of one name would be one to the issuer. */
export async function refuseTaken<T>(change: Promise<T>): Promise<T> {
  try {
    return await change;
  } catch (error) {
    if (!(error instanceof ExternalIdTaken)) throw error;
    throw new HttpError({ status: 409, detail: 'Another client has this external id.' });
  }
}

export function auditEntry(
  caller: Caller,
  action: string,
  outcome: number,
  clientId: string,
): AuditEntry {
  const { clientKey, origin } = caller;
  return { clientKey, origin, action, outcome, entity: `clients/${clientId}` };
}
