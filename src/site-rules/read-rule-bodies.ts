/** Bodies that hold a site's configuration: read, and refused whole with every fault that they have. */
import {
  checkEditionDecision,
  checkEditionProposal,
  checkTrialRequest,
} from '../contract/compile.js';
import { readJson } from '../intake/set-json/read-json.js';
import { readSiteRules } from './read-site-rules.js';
import type { Fault } from '../vitals/shapes.js';
import type { EditionDecision, EditionProposal, TrialBody } from '../vitals/site-rules.js';

export type ReadBody<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly faults: readonly Fault[] };

/** Clocks differ; what was meant as "now" on the way here is no time in the past. */
const PAST_GRACE_MS = 60_000;

export function readEditionProposal(bytes: Buffer, nowMs: number): ReadBody<EditionProposal> {
  return readWith(bytes, checkEditionProposal, (body) => [
    ...configurationFaults(body.configuration),
    ...pastFaults(body.inForceFrom, nowMs),
  ]);
}

export function readEditionDecision(bytes: Buffer, nowMs: number): ReadBody<EditionDecision> {
  return readWith(bytes, checkEditionDecision, (body) => pastFaults(body.inForceFrom, nowMs));
}

export function readTrialBody(bytes: Buffer): ReadBody<TrialBody> {
  return readWith(bytes, checkTrialRequest, (body) => [
    ...configurationFaults(body.configuration),
    ...orderFaults(body.receivedFrom, body.receivedTo),
  ]);
}

/** The members of a body of which nothing is known yet. */
type Unchecked = Readonly<Record<string, unknown>>;

/**
 * Its form by the schema, its sense by `further`: both are asked, so that no fault waits for another to
 * be mended. What the schema says of the configuration is left to those who check it as a whole.
 */
function readWith<T>(
  bytes: Buffer,
  check: (value: unknown) => ReadBody<T>,
  further: (body: Unchecked) => readonly Fault[],
): ReadBody<T> {
  const read = readJson(bytes);
  if (!read.ok) return read;
  const checked = check(read.value);
  const ofForm = checked.ok
    ? []
    : checked.faults.filter(({ pointer }) => !/^\/configuration(\/|$)/.test(pointer));
  const faults = [...ofForm, ...(isObject(read.value) ? further(read.value) : [])];
  if (faults.length > 0) return { ok: false, faults };
  return checked;
}

function isObject(value: unknown): value is Unchecked {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}

function configurationFaults(configuration: unknown): Fault[] {
  if (configuration === undefined) return [];
  const read = readSiteRules(configuration);
  if (read.ok) return [];
  return read.faults.map(({ pointer, message }) => ({
    pointer: `/configuration${pointer}`,
    message,
  }));
}

/** NaN: no time, which the schema says. */
function timeOf(written: unknown): number {
  return typeof written === 'string' ? Date.parse(written) : NaN;
}

function pastFaults(inForceFrom: unknown, nowMs: number): Fault[] {
  return timeOf(inForceFrom) < nowMs - PAST_GRACE_MS
    ? [
        {
          pointer: '/inForceFrom',
          message: 'lies in the past: what was judged is not judged again',
        },
      ]
    : [];
}

function orderFaults(receivedFrom: unknown, receivedTo: unknown): Fault[] {
  return timeOf(receivedTo) <= timeOf(receivedFrom)
    ? [{ pointer: '/receivedTo', message: 'must be after "receivedFrom"' }]
    : [];
}
