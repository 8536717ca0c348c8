/** Why entries are refused, as the errors that HTTP answers with. */
import { checkResource } from '../../contract/check-resource.js';
import type { FhirFault, SentEntry } from '../../compose/fhir-intake.js';
import { HttpError } from '../http/http-error.js';
import { refusal } from './refuse.js';
import type { OutcomeIssue } from './render-outcome.js';

type Issues = readonly [OutcomeIssue, ...OutcomeIssue[]];

function errorOf(status: number, issues: Issues): HttpError {
  return new HttpError({ status, detail: issues[0].text, issues });
}

/** Observations whose form is not that of R4, and conditions that stand twice. */
export function formErrors(entries: readonly SentEntry[]): [SentEntry, HttpError][] {
  const conditions = new Set<string>();
  return entries.flatMap((entry): [SentEntry, HttpError][] => {
    const error = formError(entry) ?? repeatedCondition(entry, conditions);
    return error === null ? [] : [[entry, error]];
  });
}

function formError({ resource, path }: SentEntry): HttpError | null {
  if (resource.resourceType !== 'Observation') return null;
  const [first, ...more] = checkResource('Observation', resource).map((issue) => ({
    ...issue,
    expression: issue.expression.replace(/^Observation/, path),
  }));
  return first === undefined ? null : errorOf(400, [first, ...more]);
}

/** R4 §3.1.0.11: entries of one identity make a transaction fail; which of two in a batch is first is open. */
function repeatedCondition(
  { resource, criteria, path }: SentEntry,
  conditions: Set<string>,
): HttpError | null {
  if (criteria === null || resource.resourceType !== 'Observation') return null;
  const names = criteria.map(({ system, value }) => `${system}|${value}`);
  if (names.some((name) => conditions.has(name))) {
    const text = 'Another entry of the Bundle has the same condition.';
    return refusal(400, 'duplicate', text, path);
  }
  for (const name of names) conditions.add(name);
  return null;
}

export function fateError(faults: readonly [FhirFault, ...FhirFault[]]): HttpError {
  const [first, ...more] = faults.map(({ code, text, expression }): OutcomeIssue => ({
    severity: 'error',
    code,
    text,
    expression,
  }));
  if (first === undefined) throw new Error('an entry was refused for nothing');
  return errorOf(faults[0].status, [first, ...more]);
}

const CONDITION_WORDS = {
  several: 'Several Observations are kept under the identifier of the condition.',
  other:
    'Under the identifier of the condition another Observation is kept: of another patient, sign, device, time or value. This one was not taken.',
} as const;

/** A condition that the commit found not to hold. */
export function conditionError(reason: keyof typeof CONDITION_WORDS, path: string): HttpError {
  return reason === 'several'
    ? refusal(412, 'multiple-matches', CONDITION_WORDS.several, path)
    : refusal(409, 'duplicate', CONDITION_WORDS.other, path);
}

/** As many issues as one answer may have. */
const MAX_ISSUES = 50;

/** One error for all: of the first one's status, save that no method of the path itself was wrong. */
export function joinErrors(errors: readonly HttpError[]): HttpError {
  const [first] = errors;
  const [issue, ...more] = errors.flatMap(({ issues = [] }) => issues).slice(0, MAX_ISSUES);
  if (first === undefined || issue === undefined) throw new Error('there is no error to tell');
  return errorOf(first.status === 405 ? 422 : first.status, [issue, ...more]);
}
