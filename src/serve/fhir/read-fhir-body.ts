import type { Request } from 'express';
import type { ExactJson, FhirIntake } from '../../compose/fhir-intake.js';
import { bodyOf } from '../http/read-body.js';
import { refusal } from './refuse.js';

/** A JSON object, and the digits of its numbers. */
export type FhirBody = Pick<ExactJson, 'digits'> & {
  readonly value: Readonly<Record<string, unknown>>;
};

/** @throws HttpError 400 when the body is no JSON object, with what is wrong and where. */
export function readBody(intake: FhirIntake, req: Request): FhirBody {
  const read = intake.readExactJson(bodyOf(req));
  if (!read.ok) throw refusal(400, 'structure', `It cannot be read: ${read.message}.`);
  const { value, digits } = read.json;
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    throw refusal(400, 'structure', 'The body must be a resource, which is a JSON object.');
  }
  return { value: value as FhirBody['value'], digits };
}
