import type { OperationOutcome, OperationOutcomeIssue } from 'fhir/r4.js';

/** One thing to tell a FHIR client. No text here may hold a patient's data or a stack trace. */
export interface OutcomeIssue {
  readonly severity: OperationOutcomeIssue['severity'];
  /** From the code system `issue-type` of FHIR R4. */
  readonly code: OperationOutcomeIssue['code'];
  /** A sentence for a person. */
  readonly text: string;
  /** Technical detail for whoever debugs the client. */
  readonly diagnostics?: string;
  /** Simple FHIRPath of the element at fault; `http.name` for a parameter or header. */
  readonly expression?: string;
}

/** An OperationOutcome of one issue or more (FHIR R4 demands at least one). */
export function renderOutcome(
  issues: readonly [OutcomeIssue, ...OutcomeIssue[]],
): OperationOutcome {
  return { resourceType: 'OperationOutcome', issue: issues.map(renderIssue) };
}

function renderIssue(issue: OutcomeIssue): OperationOutcomeIssue {
  return {
    severity: issue.severity,
    code: issue.code,
    details: { text: issue.text },
    ...(issue.diagnostics === undefined ? {} : { diagnostics: issue.diagnostics }),
    ...(issue.expression === undefined ? {} : { expression: [issue.expression] }),
  };
}
