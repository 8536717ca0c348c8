/** The parameters of a kick-off, from the address and, sent by POST, from a Parameters resource. */
import type { Request } from 'express';
import type { FhirIntake } from '../../compose/fhir-intake.js';
import { readPairs } from '../fhir/query-parameters.js';
import type { Pair } from '../fhir/query-parameters.js';
import { readBody } from '../fhir/read-fhir-body.js';
import { refusal } from '../fhir/refuse.js';
import { bodyOf } from '../http/read-body.js';

const MAX_PARAMETERS = 2000;
// eslint-disable-next-line no-control-regex -- control characters are what has to be caught
const UNFIT = /[\u0000-\u001f\u007f]/;

/** @throws HttpError 400 for a body that is no Parameters resource of plain values. */
export function readExportPairs(intake: FhirIntake, req: Request): Pair[] {
  const pairs = readPairs(req);
  return bodyOf(req).length === 0
    ? pairs
    : [...pairs, ...readResource(readBody(intake, req).value)];
}

function readResource(resource: Readonly<Record<string, unknown>>): Pair[] {
  if (resource.resourceType !== 'Parameters') {
    throw refusal(400, 'structure', 'The body must be a Parameters resource.');
  }
  const { parameter = [] } = resource;
  if (!Array.isArray(parameter)) throw unfit('Parameters.parameter');
  if (parameter.length > MAX_PARAMETERS) {
    throw refusal(400, 'too-costly', `At most ${MAX_PARAMETERS} parameters are taken.`);
  }
  return parameter.map((one: unknown, i) => readOne(one, `Parameters.parameter[${String(i)}]`));
}

function readOne(one: unknown, at: string): Pair {
  if (typeof one !== 'object' || one === null) throw unfit(at);
  const { name, ...rest } = one as Readonly<Record<string, unknown>>;
  const values = Object.entries(rest).filter(([key]) => key.startsWith('value'));
  const [entry, ...more] = values;
  const value = typeof entry?.[1] === 'boolean' ? String(entry[1]) : plainOf(entry);
  if (typeof name !== 'string' || more.length > 0 || typeof value !== 'string') throw unfit(at);
  if (UNFIT.test(name) || UNFIT.test(value)) throw unfit(at);
  return [name, value];
}

/** A text as it is; of a reference, the address that it names. */
function plainOf(entry: [string, unknown] | undefined): unknown {
  const [key, value] = entry ?? [];
  if (key !== 'valueReference' || typeof value !== 'object' || value === null) return value;
  return (value as { readonly reference?: unknown }).reference;
}

function unfit(at: string): Error {
  return refusal(400, 'structure', `${at} must have a name and one plain value.`, at);
}
