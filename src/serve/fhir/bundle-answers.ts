/** `POST` of a Bundle (R4 §3.1.0.11): a batch, each entry by itself, or a transaction, all or nothing. */
import type { Request } from 'express';
import { hasScope } from '../auth/scopes.js';
import { HttpError } from '../http/http-error.js';
import { bodyOf, mediaTypeOf } from '../http/read-body.js';
import type { Caller } from '../http/route.js';
import { bundleText } from './bundle.js';
import { deliver } from './deliver.js';
import type { DeliveryServices } from './delivery-services.js';
import { statusLine } from './entry-answers.js';
import type { EntryAnswer } from './entry-answers.js';
import { joinErrors } from './entry-errors.js';
import type { FhirAnswer } from './fhir-handler.js';
import { keep, keepingRefusals } from './keep-refusal.js';
import { checkContentVersion, returnOf } from './negotiate.js';
import type { ReturnPreference } from './negotiate.js';
import { readBundle } from './read-bundle.js';
import type { AskedBundle, AskedEntry } from './read-bundle.js';
import { readBody } from './read-fhir-body.js';
import type { FhirBody } from './read-fhir-body.js';
import { MAX_PATIENT_BYTES, register } from './registration-answers.js';
import { refusal } from './refuse.js';
import { outcomeOf, renderOutcome } from './render-outcome.js';
import type { FhirSite } from './site.js';
import type { EntryResult } from './submission.js';

/** For registrations alone; what brings readings is bounded more tightly. */
export const MAX_BATCH_BYTES = 4 * 1024 * 1024;
const MAX_REGISTRATIONS = 1000;
export const MAX_DELIVERY_BYTES = 1024 * 1024;
export const MAX_DELIVERY_ENTRIES = 200;

interface Asked {
  readonly site: FhirSite;
  readonly services: DeliveryServices;
  readonly req: Request;
  readonly caller: Caller;
}

export function postBundle(
  site: FhirSite,
  services: DeliveryServices,
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  checkContentVersion(req.headers);
  const work = (): Promise<FhirAnswer> => answerBundle({ site, services, req, caller });
  // Registrations alone are kept as what they registered.
  return maySend(caller) ? keepingRefusals(services.pipeline, req, caller, work) : work();
}

function maySend({ scopes }: Caller): boolean {
  return hasScope(scopes, 'system/Observation.c');
}

async function answerBundle(asked: Asked): Promise<FhirAnswer> {
  const { site, services, req, caller } = asked;
  const body = readBody(services.intake, req);
  const bundle = readBundle(body.value, site.baseUrl);
  checkLimits(bundle, bodyOf(req).length);
  const entries = bundle.entries.map((entry) => guarded(entry, bundle.kind, caller));
  const errors = entries.flatMap((entry) => (entry.kind === 'refused' ? [entry.error] : []));
  if (bundle.kind === 'transaction' && errors.length > 0) throw joinErrors(errors);
  const preference = returnOf(req.headers);
  const texts = new Map<number, string>();
  for (const [i, entry] of entries.entries()) {
    if (entry.kind === 'refused') texts.set(i, refusedText(entry.error));
    if (entry.kind === 'registration') {
      texts.set(i, await registerEntry(site, entry, caller, preference));
    }
  }
  const kept = await deliverEntries(asked, body, bundle.kind, entries, texts, preference);
  const text = bundleText({
    type: `${bundle.kind}-response`,
    entries: entries.map((_entry, i) => texts.get(i) ?? ''),
  });
  if (!kept) await keep(services.pipeline, req, caller, 200, text);
  return { status: 200, text };
}

/** False: there was something to deliver, and nothing of it is on disk yet. */
async function deliverEntries(
  { site, services, req, caller }: Asked,
  { digits }: FhirBody,
  kind: AskedBundle['kind'],
  entries: readonly AskedEntry[],
  texts: Map<number, string>,
  preference: ReturnPreference | undefined,
): Promise<boolean> {
  const sent = entries.flatMap((entry, index) =>
    entry.kind === 'delivery'
      ? [{ ...entry, index, at: `entry ${index + 1}`, path: `Bundle.entry[${index}].resource` }]
      : [],
  );
  if (sent.length === 0) return !maySend(caller) || entries.every(isRegistration);
  const { results, kept } = await deliver(site, services, {
    caller,
    bytes: bodyOf(req),
    contentType: mediaTypeOf(req),
    kind,
    digits,
    entries: sent,
  });
  sent.forEach(({ index }, i) => {
    const result = results[i];
    if (result !== undefined) texts.set(index, resultText(result, preference));
  });
  return kept;
}

function isRegistration({ kind }: AskedEntry): boolean {
  return kind === 'registration';
}

function checkLimits({ entries }: AskedBundle, byteLength: number): void {
  const delivers = entries.some(({ kind }) => kind === 'delivery');
  const most = delivers ? MAX_DELIVERY_ENTRIES : MAX_REGISTRATIONS;
  if (entries.length > most) {
    const text = `A Bundle of this kind has at most ${most} entries.`;
    throw refusal(413, 'too-long', text, 'Bundle.entry');
  }
  if (delivers && byteLength > MAX_DELIVERY_BYTES) {
    const text = `A Bundle that brings readings has at most ${MAX_DELIVERY_BYTES / 1024} KiB.`;
    throw refusal(413, 'too-long', text);
  }
}

/** With the scopes of the token, and what a transaction cannot hold. */
function guarded(entry: AskedEntry, kind: AskedBundle['kind'], caller: Caller): AskedEntry {
  const refuse = (
    status: number,
    code: 'forbidden' | 'not-supported',
    text: string,
  ): AskedEntry => ({
    kind: 'refused',
    error: refusal(status, code, text),
  });
  if (entry.kind === 'delivery' && !maySend(caller)) {
    return refuse(403, 'forbidden', 'This entry needs the scope system/Observation.c.');
  }
  if (entry.kind !== 'registration') return entry;
  if (kind === 'transaction') {
    return refuse(422, 'not-supported', 'Patients are registered alone or in a batch.');
  }
  return hasScope(caller.scopes, 'system/Patient.cu')
    ? entry
    : refuse(403, 'forbidden', 'This entry needs the scope system/Patient.cu.');
}

async function registerEntry(
  site: FhirSite,
  { pairs, ifMatch, resource }: Extract<AskedEntry, { kind: 'registration' }>,
  caller: Caller,
  preference: ReturnPreference | undefined,
): Promise<string> {
  try {
    if (Buffer.byteLength(JSON.stringify(resource ?? null)) > MAX_PATIENT_BYTES) {
      throw refusal(413, 'too-long', `A Patient has at most ${MAX_PATIENT_BYTES / 1024} KiB.`);
    }
    const { created, location, etag, stampMs, text } = await register(
      site,
      pairs,
      resource,
      ifMatch,
      caller,
    );
    const version = { etag, stampMs };
    return answerText(
      { status: created ? 201 : 200, location, version, text, issues: [] },
      preference,
    );
  } catch (error) {
    if (error instanceof HttpError) return refusedText(error);
    throw error;
  }
}

function resultText(result: EntryResult, preference: ReturnPreference | undefined): string {
  return result.kind === 'refused'
    ? refusedText(result.error)
    : answerText(result.answer, preference);
}

/** The resource where it is asked for; what there is to say unless little is wanted and all is well. */
function answerText(
  { status, location, version, text, issues: [first, ...more] }: EntryAnswer,
  preference: ReturnPreference | undefined,
): string {
  const silent = preference === 'minimal' && status <= 201;
  const response = {
    status: statusLine(status),
    ...(location !== undefined && { location }),
    ...(version !== undefined && {
      etag: version.etag,
      lastModified: new Date(version.stampMs).toISOString(),
    }),
    ...(first !== undefined && !silent && { outcome: renderOutcome([first, ...more]) }),
  };
  const withResource = preference === 'representation' && text !== undefined;
  return `{${withResource ? `"resource":${text},` : ''}"response":${JSON.stringify(response)}}`;
}

function refusedText(error: HttpError): string {
  const response = { status: statusLine(error.status), outcome: outcomeOf(error) };
  return JSON.stringify({ response });
}
