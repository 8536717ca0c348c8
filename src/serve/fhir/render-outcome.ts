import type { OperationOutcome, OperationOutcomeIssue } from 'fhir/r4.js';

/** System of the ids of rules, by which a program may tell one finding from another. */
const RULE_SYSTEM = 'urn:vital-sign-gateway:rule';

/**
 * One thing to tell a FHIR client. No text here may hold a stack trace, nor a patient's data, save a
 * finding about the very reading that the client has sent.
 */
export interface OutcomeIssue {
  readonly severity: OperationOutcomeIssue['severity'];
  /** From the code system `issue-type` of FHIR R4. */
  readonly code: OperationOutcomeIssue['code'];
  /** A sentence for a person. */
  readonly text: string;
  /** The rule that found it. */
  readonly rule?: string;
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
    details: {
      ...(issue.rule === undefined ? {} : { coding: [{ system: RULE_SYSTEM, code: issue.rule }] }),
      text: issue.text,
    },
    ...(issue.diagnostics === undefined ? {} : { diagnostics: issue.diagnostics }),
    ...(issue.expression === undefined ? {} : { expression: [issue.expression] }),
  };
}

/** The OperationOutcome of an error that was meant for FHIR clients. */
export function outcomeOf({
  message,
  issues,
}: {
  readonly message: string;
  readonly issues: readonly [OutcomeIssue, ...OutcomeIssue[]] | undefined;
}): OperationOutcome {
  return renderOutcome(issues ?? [{ severity: 'error', code: 'processing', text: message }]);
}
