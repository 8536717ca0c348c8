/** Registrations in a batch. */
import { STATUS_CODES } from 'node:http';
import type { Request } from 'express';
import { HttpError } from '../http/http-error.js';
import { bodyOf } from '../http/read-body.js';
import type { Caller } from '../http/route.js';
import { bundleText } from './bundle.js';
import type { FhirAnswer } from './fhir-handler.js';
import { checkContentVersion, returnOf } from './negotiate.js';
import { parsePairs } from './query-parameters.js';
import type { Pair } from './query-parameters.js';
import { MAX_PATIENT_BYTES, readJson, register } from './registration-answers.js';
import type { Registered } from './registration-answers.js';
import { refusal } from './refuse.js';
import { renderOutcome } from './render-outcome.js';
import type { FhirSite } from './site.js';

export const MAX_BATCH_BYTES = 4 * 1024 * 1024;
const MAX_BATCH_ENTRIES = 1000;

type Json = Readonly<Record<string, unknown>>;

function asObject(value: unknown): Json {
  return typeof value === 'object' && value !== null ? (value as Json) : {};
}

/**
 * `POST` of a batch (R4 §3.1.0.11): registrations only, each on its own. One that fails says so in
 * its place; when the database goes away the whole is answered as such, and may simply be sent again.
 */
export async function postBatch(
  site: FhirSite,
  _pairs: readonly Pair[],
  req: Request,
  caller: Caller,
): Promise<FhirAnswer> {
  checkContentVersion(req.headers);
  const entries = readBatch(readJson(bodyOf(req)));
  const withResource = returnOf(req.headers) === 'representation';
  const answers: string[] = [];
  for (const entry of entries) answers.push(await answerEntry(site, entry, caller, withResource));
  return { status: 200, text: bundleText({ type: 'batch-response', entries: answers }) };
}

function readBatch(body: unknown): readonly unknown[] {
  const { resourceType, type, entry = [] } = asObject(body);
  if (resourceType !== 'Bundle') {
    throw refusal(400, 'structure', 'The body must be a Bundle.', 'Bundle.resourceType');
  }
  if (type !== 'batch') {
    throw refusal(400, 'not-supported', 'Of Bundles only batches are taken.', 'Bundle.type');
  }
  if (!Array.isArray(entry)) {
    throw refusal(400, 'structure', 'Bundle.entry must be a list.', 'Bundle.entry');
  }
  if (entry.length > MAX_BATCH_ENTRIES) {
    const text = `A batch has at most ${MAX_BATCH_ENTRIES} entries.`;
    throw refusal(413, 'too-long', text, 'Bundle.entry');
  }
  return entry;
}

async function answerEntry(
  site: FhirSite,
  entry: unknown,
  caller: Caller,
  withResource: boolean,
): Promise<string> {
  try {
    const { request, resource } = asObject(entry);
    const { url, ifMatch } = asObject(request);
    const pairs = readEntryUrl(site, asObject(request).method, url);
    if (Buffer.byteLength(JSON.stringify(resource ?? null)) > MAX_PATIENT_BYTES) {
      throw refusal(413, 'too-long', `A Patient has at most ${MAX_PATIENT_BYTES / 1024} KiB.`);
    }
    const match = typeof ifMatch === 'string' ? ifMatch : undefined;
    const done = await register(site, pairs, resource, match, caller);
    return doneEntry(done, withResource);
  } catch (error) {
    if (error instanceof HttpError) return failedEntry(error);
    throw error;
  }
}

function readEntryUrl({ baseUrl }: FhirSite, method: unknown, url: unknown): Pair[] {
  const text = typeof url === 'string' ? url : '';
  const local = text.startsWith(`${baseUrl}/`) ? text.slice(baseUrl.length + 1) : text;
  const [path, query = ''] = local.split(/\?(.*)/s, 2);
  if (method !== 'PUT' || path !== 'Patient') {
    const words = 'Of the entries of a batch only PUT Patient?identifier=system|value is taken.';
    throw refusal(405, 'not-supported', words, 'Bundle.entry.request');
  }
  return parsePairs(query);
}

function statusLine(status: number): string {
  return `${status} ${STATUS_CODES[status] ?? ''}`.trim();
}

function doneEntry(done: Registered, withResource: boolean): string {
  const { created, location, etag, stampMs, text } = done;
  const response = {
    status: statusLine(created ? 201 : 200),
    location,
    etag,
    lastModified: new Date(stampMs).toISOString(),
  };
  return `{${withResource ? `"resource":${text},` : ''}"response":${JSON.stringify(response)}}`;
}

function failedEntry({ status, message, issues }: HttpError): string {
  const outcome = renderOutcome(
    issues ?? [{ severity: 'error', code: 'processing', text: message }],
  );
  return JSON.stringify({ response: { status: statusLine(status), outcome } });
}
