/** The Bundle of a batch or transaction (R4 §3.1.0.11), taken apart into what each entry asks for. */
import type { Identifier } from '../../vitals/shapes.js';
import { parsePairs } from './query-parameters.js';
import type { Pair } from './query-parameters.js';
import { readQuery } from './read-criteria.js';
import { refusal } from './refuse.js';
import { HttpError } from '../http/http-error.js';

export type BundleKind = 'batch' | 'transaction';

type Json = Readonly<Record<string, unknown>>;

/** An entry as it asks; `error`: it cannot be asked. */
export type AskedEntry =
  /** `PUT Patient?identifier=…`. */
  | {
      readonly kind: 'registration';
      readonly pairs: readonly Pair[];
      readonly ifMatch: string | undefined;
      readonly resource: unknown;
    }
  /** What is created, or a Device that is told again. */
  | {
      readonly kind: 'delivery';
      readonly fullUrl: string | null;
      readonly criteria: readonly Identifier[] | null;
      readonly resource: Json;
    }
  | { readonly kind: 'refused'; readonly error: HttpError };

export interface AskedBundle {
  readonly kind: BundleKind;
  readonly entries: readonly AskedEntry[];
}

const BUNDLE_ELEMENTS: readonly string[] = [
  ...['resourceType', 'id', 'meta', 'language', 'type', 'timestamp', 'identifier', 'total', 'link'],
  'entry',
];
const ENTRY_ELEMENTS: readonly string[] = ['id', 'link', 'fullUrl', 'resource', 'request'];
const REQUEST_ELEMENTS: readonly string[] = [
  ...['id', 'method', 'url', 'ifNoneMatch', 'ifModifiedSince', 'ifMatch', 'ifNoneExist'],
];
/** Types that entries may create, and that may be told again by a conditional update. */
const CREATED: readonly string[] = [
  ...['Observation', 'Patient', 'Device', 'DeviceMetric', 'Practitioner', 'Encounter', 'Location'],
];
const TOLD_AGAIN: readonly string[] = ['Device', 'DeviceMetric'];

function asObject(value: unknown): Json {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
    ? (value as Json)
    : {};
}

/** @throws HttpError 400 when it is no Bundle that can be taken. */
export function readBundle(body: unknown, baseUrl: string): AskedBundle {
  const bundle = asObject(body);
  const { resourceType, type, entry = [] } = bundle;
  if (resourceType !== 'Bundle') {
    throw refusal(400, 'structure', 'The body must be a Bundle.', 'Bundle.resourceType');
  }
  if (type !== 'batch' && type !== 'transaction') {
    const text = 'Of Bundles batches and transactions are taken.';
    throw refusal(400, 'not-supported', text, 'Bundle.type');
  }
  if (!Array.isArray(entry)) {
    throw refusal(400, 'structure', 'Bundle.entry must be a list.', 'Bundle.entry');
  }
  checkNames(bundle, BUNDLE_ELEMENTS, 'Bundle');
  if (type === 'transaction') checkFullUrls(entry);
  return {
    kind: type,
    entries: entry.map((one: unknown, i) => readEntry(one, `Bundle.entry[${i}]`, baseUrl)),
  };
}

function checkNames(value: Json, known: readonly string[], path: string): void {
  const name = Object.keys(value).find((one) => !known.includes(one));
  if (name === undefined) return;
  const shown = /^_?[A-Za-z]{1,64}$/.test(name) ? `${path}.${name}` : path;
  throw refusal(400, 'structure', `${shown} is not read here.`, shown);
}

/** Invariant bdl-7: by its full URL one entry is told from another. */
function checkFullUrls(entries: readonly unknown[]): void {
  const seen = new Set<unknown>();
  entries.forEach((one, i) => {
    const { fullUrl } = asObject(one);
    if (fullUrl === undefined) return;
    const path = `Bundle.entry[${i}].fullUrl`;
    if (seen.has(fullUrl)) {
      throw refusal(400, 'invariant', 'Two entries have the same full URL (bdl-7).', path);
    }
    seen.add(fullUrl);
  });
}

function readEntry(entry: unknown, path: string, baseUrl: string): AskedEntry {
  try {
    return askEntry(asObject(entry), path, baseUrl);
  } catch (error) {
    if (error instanceof HttpError) return { kind: 'refused', error };
    throw error;
  }
}

function askEntry(entry: Json, path: string, baseUrl: string): AskedEntry {
  const request = asObject(entry.request);
  const { method, url, ifMatch, ifNoneExist } = request;
  const address = readAddress(url, baseUrl);
  if (method === 'PUT' && address.path === 'Patient') {
    const match = typeof ifMatch === 'string' ? ifMatch : undefined;
    const pairs = parsePairs(address.query);
    return { kind: 'registration', pairs, ifMatch: match, resource: entry.resource };
  }
  const creates = method === 'POST' && CREATED.includes(address.path) && address.query === '';
  const tells = method === 'PUT' && TOLD_AGAIN.includes(address.path) && address.query !== '';
  if (!creates && !tells) throw notOffered(path);
  checkNames(entry, ENTRY_ELEMENTS, path);
  checkNames(request, REQUEST_ELEMENTS, `${path}.request`);
  const resource = asObject(entry.resource);
  if (resource.resourceType !== address.path) {
    const text = `${path}.resource must be of the type that the address names.`;
    throw refusal(400, 'structure', text, `${path}.resource`);
  }
  const condition = tells ? address.query : ifNoneExist;
  return {
    kind: 'delivery',
    fullUrl: typeof entry.fullUrl === 'string' ? entry.fullUrl : null,
    criteria: condition === undefined ? null : readCondition(condition, `${path}.request`),
    resource,
  };
}

function readAddress(url: unknown, baseUrl: string): { path: string; query: string } {
  const text = typeof url === 'string' ? url : '';
  const local = text.startsWith(`${baseUrl}/`) ? text.slice(baseUrl.length + 1) : text;
  const [path = '', query = ''] = local.replace(/^\//, '').split(/\?(.*)/s, 2);
  return { path, query };
}

function notOffered(path: string): HttpError {
  const words =
    'Of the entries of a Bundle are taken: PUT Patient?identifier=system|value in a batch; POST of Observation, Patient, Device, DeviceMetric, Practitioner, Encounter and Location; PUT Device?identifier=system|value.';
  return refusal(405, 'not-supported', words, `${path}.request`);
}

/** @throws HttpError 400 */
export function readCondition(condition: unknown, expression: string): readonly Identifier[] {
  const text = typeof condition === 'string' ? condition.replace(/^(?:[A-Za-z]+)?\?/, '') : '';
  const read = readQuery(text);
  if (typeof read !== 'string') return read;
  throw refusal(400, 'value', `The condition ${read}.`, expression);
}
