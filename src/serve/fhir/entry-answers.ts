/** What became of one entry, as FHIR tells it: status, place and version, and what there is to say. */
import { STATUS_CODES } from 'node:http';
import type { EntryFate } from '../../compose/fhir-intake.js';
import type { ReadingVersion } from '../../vitals/shapes.js';
import { hasScope } from '../auth/scopes.js';
import type { Caller } from '../http/route.js';
import type { ToldId } from '../../store/told-devices.js';
import { etagOf } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import type { ReadingAnswer, SetFinding } from './read-answers.js';
import { renderObservation } from './render-observation.js';
import type { OutcomeIssue } from './render-outcome.js';

export interface EntryAnswer {
  readonly status: number;
  /** Absolute, with the version where there is one. */
  readonly location?: string;
  readonly version?: { readonly etag: string; readonly stampMs: number };
  /** The JSON text of the Observation. */
  readonly text?: string;
  readonly issues: readonly OutcomeIssue[];
}

/** `200 OK`. */
export function statusLine(status: number): string {
  return `${status} ${STATUS_CODES[status] ?? ''}`.trim();
}

/** Everything that is known of a reading once it is on disk. */
export interface ReadingFacts {
  readonly reading: ReadingAnswer;
  readonly findings: readonly SetFinding[];
  /** Null: it is not published. */
  readonly published: ReadingVersion | null;
  /** The same bytes had come before. */
  readonly repeat: boolean;
}

/** In a transaction one reading must not cost the others: then what brings none is accepted all the same. */
export interface AnswerMode {
  readonly baseUrl: string;
  readonly isTransaction: boolean;
  readonly caller: Caller;
}

/** @param companions what stood in components of the same Observation */
export function readingAnswer(
  { reading, findings, published, repeat }: ReadingFacts,
  companions: readonly ReadingFacts[],
  isConditional: boolean,
  { baseUrl, isTransaction }: AnswerMode,
): EntryAnswer {
  const issues = issuesOf([...findings, ...companions.flatMap((one) => one.findings)]);
  const others = companions.flatMap(({ published: other }) =>
    other === null ? [] : [besideIssue(other.readingId)],
  );
  if (published === null) {
    const rejected = reading.verdict === 'rejected';
    const status = rejected && !isTransaction ? 422 : 202;
    return { status, issues: [...issues, ...others, unpublished(rejected)] };
  }
  const known = reading.receivedBefore === true || (repeat && isConditional);
  const all = [...issues, ...others, ...(known ? [KEPT_BEFORE] : [])];
  return publishedAnswer(known ? 200 : 201, published, baseUrl, all);
}

/** What is found of a whole set stands with each of its readings, known ones too; it is said once. */
function issuesOf(findings: readonly SetFinding[]): OutcomeIssue[] {
  const issues = new Map<string, OutcomeIssue>();
  for (const finding of findings)
    issues.set(`${finding.rule} ${finding.message}`, findingIssue(finding));
  return [...issues.values()];
}

export function publishedAnswer(
  status: number,
  published: ReadingVersion,
  baseUrl: string,
  issues: readonly OutcomeIssue[],
): EntryAnswer {
  const { readingId: id, version, stampMs } = published;
  return {
    status,
    location: `${baseUrl}/Observation/${id}/_history/${version}`,
    version: { etag: etagOf(version), stampMs },
    text: toFhirJson(renderObservation(published)),
    issues,
  };
}

/** For a reading of a body that had come before, when it brought none. */
export function takenBefore({ isTransaction }: AnswerMode): EntryAnswer {
  const issue: OutcomeIssue = {
    severity: isTransaction ? 'warning' : 'error',
    code: 'duplicate',
    text: 'The very same bytes were taken before, and this brought no reading then. Send it in another body, or have the submission replayed.',
  };
  return { status: isTransaction ? 202 : 409, issues: [issue] };
}

const SEVERITIES = { noted: 'information', held: 'warning', rejected: 'error' } as const;

export function findingIssue({
  rule,
  verdict,
  message,
  advice,
}: Pick<SetFinding, 'rule' | 'verdict' | 'message' | 'advice'>): OutcomeIssue {
  return {
    severity: SEVERITIES[verdict],
    code: 'business-rule',
    rule,
    text: advice === '' ? message : `${message} ${advice}`,
  };
}

function unpublished(rejected: boolean): OutcomeIssue {
  return rejected
    ? {
        severity: 'error',
        code: 'business-rule',
        text: 'It is rejected and kept: it becomes no Observation.',
      }
    : {
        severity: 'warning',
        code: 'business-rule',
        text: 'It is held for review and not published: there is no Observation of it yet.',
      };
}

const KEPT_BEFORE: OutcomeIssue = {
  severity: 'information',
  code: 'duplicate',
  text: 'It was kept before, and is not taken a second time.',
};

function besideIssue(id: string): OutcomeIssue {
  return {
    severity: 'information',
    code: 'informational',
    text: `A component is an Observation of its own: Observation/${id}`,
  };
}

const UNREAD_CODES = {
  'code-unmapped': 'code-invalid',
  'not-a-vital-sign': 'not-supported',
  'no-value': 'business-rule',
  'original-not-found': 'not-found',
} as const;

/** What is no reading, and all else that is not refused. */
export function plainAnswer(
  fate: Exclude<EntryFate, { kind: 'reading' | 'refused' | 'amendment' }>,
  told: ToldId | null,
  { baseUrl, isTransaction, caller }: AnswerMode,
): EntryAnswer {
  switch (fate.kind) {
    case 'unread': {
      const severity = isTransaction ? 'warning' : 'error';
      const text = `${fate.message} It brings no reading; it is kept for the analyst.`;
      const issue = { severity, code: UNREAD_CODES[fate.reason], text } as const;
      return { status: isTransaction ? 202 : 422, issues: [issue] };
    }
    case 'used':
      return { status: 200, issues: [informational(fate.message)] };
    case 'patient': {
      const { known } = fate;
      const text =
        known === null
          ? 'Nobody has registered this patient, and nobody is registered from here: the readings wait.'
          : 'The patient is registered; nothing was changed.';
      // The id of a patient is told to those only who may look it up.
      const mayKnow = hasScope(caller.scopes, 'system/Patient.r');
      const location = known !== null && mayKnow ? `${baseUrl}/Patient/${known.id}` : undefined;
      return {
        status: 200,
        ...(location !== undefined && { location }),
        issues: [informational(text)],
      };
    }
    case 'device':
      return {
        status: told?.isNew === true ? 201 : 200,
        ...(told !== null && { location: `${baseUrl}/${fate.told.resourceType}/${told.id}` }),
        issues: [informational(DEVICE_WORDS)],
      };
  }
}

const DEVICE_WORDS =
  'Of it are kept its identifier, its place in the device, and whether it shows settings or test data, for references to it. It cannot be read, and this registers nothing.';

function informational(text: string): OutcomeIssue {
  return { severity: 'information', code: 'informational', text };
}
