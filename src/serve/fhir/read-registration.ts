import type { Patient } from 'fhir/r4.js';
import type { Registration } from '../../store/register-patient.js';
import type { Identifier } from '../../vitals/shapes.js';
import { MAX_ISSUES, checkResource } from '../../contract/check-resource.js';
import { HttpError } from '../http/http-error.js';
import { brokenRules } from './patient-rules.js';
import type { Pair } from './query-parameters.js';
import { readCriteria } from './read-criteria.js';
import { badValue, refusal } from './refuse.js';
import type { OutcomeIssue } from './render-outcome.js';

/** What a registration says, without who said it. */
export type PatientStatement = Omit<Registration, 'clientKey' | 'expectedVersion'>;

/**
 * The identifiers by which a conditional update finds its patient.
 *
 * @throws HttpError 400
 */
export function readMatching(pairs: readonly Pair[]): readonly Identifier[] {
  const read = readCriteria(pairs);
  if (!('kind' in read)) return read;
  if (read.kind === 'value') throw badValue('identifier', read.words);
  const text = 'A Patient is registered by Patient?identifier=system|value and nothing else.';
  throw refusal(400, 'not-supported', text, 'http.identifier');
}

/**
 * Reads the Patient of a registration.
 *
 * @throws HttpError 400 when it is not a FHIR Patient that can be kept, 422 when it breaks a rule of R4
 *   or lacks what US Core 9.0.0 demands (identifier with system and value, a name, gender, whole telecoms).
 */
export function readStatement(body: unknown, matching: readonly Identifier[]): PatientStatement {
  failWith(400, checkResource('Patient', body));
  const patient = withMatched(body as Patient, matching);
  failWith(422, [...missingParts(patient), ...brokenRules(patient)]);
  const identifiers = (patient.identifier ?? []).map(({ system = '', value = '' }) => ({
    system,
    value,
  }));
  return {
    matching,
    identifiers,
    resource: withoutOwn(patient),
    claimedId: patient.id ?? null,
    familyName: chosenFamilyName(patient),
    birthDate: patient.birthDate ?? null,
    gender: patient.gender ?? null,
  };
}

function failWith(status: number, issues: readonly OutcomeIssue[]): void {
  const [first, ...rest] = issues.slice(0, MAX_ISSUES);
  if (first === undefined) return;
  const detail = 'The Patient cannot be registered.';
  throw new HttpError({ status, detail, issues: [first, ...rest] });
}

/** The identifier that was asked for belongs to the patient, whether or not the resource repeats it. */
function withMatched(patient: Patient, matching: readonly Identifier[]): Patient {
  const own = patient.identifier ?? [];
  const repeated = matching.some((one) =>
    own.some(({ system, value }) => system === one.system && value === one.value),
  );
  const [only, ...others] = matching;
  if (repeated || only === undefined) return patient;
  if (others.length > 0) {
    const text = 'The Patient must have one of the identifiers that it is to be found by.';
    throw refusal(422, 'business-rule', text, 'Patient.identifier');
  }
  return { ...patient, identifier: [...own, { system: only.system, value: only.value }] };
}

function missingParts(patient: Patient): OutcomeIssue[] {
  const missing = (expression: string, what = expression): OutcomeIssue => ({
    severity: 'error',
    code: 'required',
    text: `${what} is missing.`,
    expression,
  });
  const named = (patient.name ?? []).some(
    ({ family, given, text }) => family !== undefined || given !== undefined || text !== undefined,
  );
  const pairs = (['identifier', 'telecom'] as const).flatMap((list) =>
    (patient[list] ?? []).flatMap(({ system, value }, i) => [
      ...(system === undefined ? [missing(`Patient.${list}[${i}].system`)] : []),
      ...(value === undefined ? [missing(`Patient.${list}[${i}].value`)] : []),
    ]),
  );
  return [
    ...(named ? [] : [missing('Patient.name', 'Patient.name with family, given or text')]),
    ...(patient.gender === undefined ? [missing('Patient.gender')] : []),
    ...pairs,
    ...narrativeIssues(patient),
  ];
}

/** The narrative is written anew from the elements; what stands in it alone would be lost. */
function narrativeIssues({ text }: Patient): OutcomeIssue[] {
  if (text?.status !== 'additional') return [];
  const words = 'The narrative says more than the elements, which would be lost.';
  const issue = { severity: 'error', code: 'not-supported', text: words } as const;
  return [{ ...issue, expression: 'Patient.text' }];
}

/** What is kept: without the elements that the gateway states itself. */
function withoutOwn(patient: Patient): Readonly<Record<string, unknown>> {
  const meta = without(patient.meta ?? {}, ['versionId', 'lastUpdated', 'profile']);
  const rest = without(patient, ['id', 'text', 'meta']);
  return Object.keys(meta).length === 0 ? rest : { ...rest, meta };
}

function without(value: object, names: readonly string[]): Record<string, unknown> {
  return Object.fromEntries(Object.entries(value).filter(([name]) => !names.includes(name)));
}

/** Names by which somebody is not, or no longer, called in earnest come last. */
const NAME_ORDER = [
  'official',
  'usual',
  undefined,
  'temp',
  'maiden',
  'old',
  'nickname',
  'anonymous',
];

/** The family name that a sender's second identifier is compared with. */
function chosenFamilyName({ name = [] }: Patient): string | null {
  const withFamily = name.filter(({ family }) => family !== undefined);
  const [first] = withFamily.toSorted(
    (a, b) => NAME_ORDER.indexOf(a.use) - NAME_ORDER.indexOf(b.use),
  );
  return first?.family ?? null;
}
