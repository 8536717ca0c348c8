/** Registration of patients: the conditional update by identifier. */
import type { Request } from 'express';
import { registerPatient } from '../../store/register-patient.js';
import type { RegistrationRefusal } from '../../store/register-patient.js';
import type { HttpError } from '../http/http-error.js';
import { bodyOf } from '../http/read-body.js';
import type { Caller } from '../http/route.js';
import { etagOf } from './fhir-handler.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { checkContentVersion, returnOf } from './negotiate.js';
import { toPatient } from './patient-answers.js';
import type { Pair } from './query-parameters.js';
import { readMatching, readStatement } from './read-registration.js';
import { refusal } from './refuse.js';
import { renderOutcome } from './render-outcome.js';
import { readVersionId } from './site.js';
import type { FhirSite } from './site.js';

export const MAX_PATIENT_BYTES = 64 * 1024;

/** A registration as it was done. */
export interface Registered {
  readonly created: boolean;
  readonly location: string;
  readonly etag: string;
  readonly stampMs: number;
  /** The JSON text of the Patient. */
  readonly text: string;
}

/** @throws HttpError 400 */
function readJson(bytes: Buffer): unknown {
  try {
    return JSON.parse(new TextDecoder('utf-8', { fatal: true }).decode(bytes));
  } catch {
    throw refusal(400, 'structure', 'The body is not JSON in UTF-8.');
  }
}

/** The version that `If-Match` names; null: none is. */
export function readIfMatch(header: string | undefined): number | null {
  if (header === undefined) return null;
  const [, versionId] = /^\s*(?:W\/)?"([^"]*)"\s*$/.exec(header) ?? [];
  if (versionId === undefined) {
    throw refusal(400, 'value', 'If-Match must be one entity tag, such as W/"1".', 'http.If-Match');
  }
  // A version that cannot be one of ours is a stale one.
  return readVersionId(versionId) ?? 0;
}

function refused(refusalKind: RegistrationRefusal): HttpError {
  switch (refusalKind) {
    case 'several-matches':
      return refusal(
        412,
        'multiple-matches',
        'More than one registered Patient has these identifiers.',
      );
    case 'other-id': {
      const text =
        'The id is not that of a registered Patient with this identifier; ids are given here.';
      return refusal(400, 'value', text, 'Patient.id');
    }
    case 'stale-version':
      return refusal(412, 'conflict', 'The Patient has not the version that If-Match names.');
    case 'identifier-taken': {
      const text =
        'An identifier of this Patient leads to another registered patient; if both are one person, merge them first.';
      return refusal(409, 'duplicate', text, 'Patient.identifier');
    }
  }
}

/** @throws HttpError when the statement is refused */
export async function register(
  { pool, baseUrl, onRegistered }: FhirSite,
  pairs: readonly Pair[],
  body: unknown,
  ifMatch: string | undefined,
  caller: Caller,
): Promise<Registered> {
  const statement = readStatement(body, readMatching(pairs));
  const { clientKey, origin } = caller;
  const expectedVersion = readIfMatch(ifMatch);
  const result = await registerPatient(pool, {
    ...statement,
    ...{ expectedVersion, clientKey, origin },
  });
  if (!('version' in result)) throw refused(result.outcome);
  onRegistered(result.patientKey);
  const { id, version, stampMs } = result.version;
  return {
    created: result.outcome === 'created',
    location: `${baseUrl}/Patient/${id}/_history/${version}`,
    etag: etagOf(version),
    stampMs,
    text: toFhirJson(toPatient(result.version)),
  };
}

/** `PUT Patient?identifier=system|value` (R4 §3.1.0.4.3). */
export async function putPatient(
  site: FhirSite,
  pairs: readonly Pair[],
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  checkContentVersion(req.headers);
  const ifMatch = req.headers['if-match'];
  const done = await register(site, pairs, readJson(bodyOf(req)), ifMatch, caller);
  const { created, location, etag, stampMs } = done;
  const version = { etag, sinceMs: stampMs, replacedSinceMs: null };
  return {
    status: created ? 201 : 200,
    text: bodyFor(returnOf(req.headers) ?? 'representation', done),
    version,
    ...(created ? { headers: { Location: location } } : {}),
  };
}

function bodyFor(
  preference: 'minimal' | 'representation' | 'OperationOutcome',
  { created, text }: Registered,
): string | null {
  if (preference === 'minimal') return null;
  return preference === 'representation' ? text : JSON.stringify(doneOutcome(created));
}

function doneOutcome(created: boolean): unknown {
  const text = created ? 'The Patient is registered.' : 'The Patient is registered as stated.';
  return renderOutcome([{ severity: 'information', code: 'informational', text }]);
}
