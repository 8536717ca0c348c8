import { HttpError } from '../http/http-error.js';
import type { OutcomeIssue } from './render-outcome.js';

/** An error answer with one issue. The text never repeats what the client sent as a value. */
export function refusal(
  status: number,
  code: OutcomeIssue['code'],
  text: string,
  expression?: string,
): HttpError {
  const issue = { severity: 'error', code, text } as const;
  return new HttpError({
    status,
    detail: text,
    issues: [expression === undefined ? issue : { ...issue, expression }],
  });
}

/** A value of a parameter that cannot be used. FHIR R4 §3.1.1.3: an error, not an empty result. */
export function badValue(parameter: string, text: string): HttpError {
  return refusal(400, 'value', `${parameter} ${text}.`, `http.${parameter}`);
}
