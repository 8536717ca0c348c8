import type { Fault } from '../../vitals/shapes.js';
import type { OutcomeIssue } from '../fhir/render-outcome.js';

interface HttpErrorFacts {
  readonly status: number;
  /** One sentence for the client. Never a patient's data, never the inside of the gateway. */
  readonly detail: string;
  /** Faults of the body, for problem documents. */
  readonly errors?: readonly Fault[];
  /** What a FHIR client is told in place of one issue made from status and detail. */
  readonly issues?: readonly [OutcomeIssue, ...OutcomeIssue[]];
  readonly headers?: Readonly<Record<string, string>>;
  /** The client whose credentials were refused, for the audit trail. */
  readonly clientKey?: number | undefined;
}

/** An answer that is an error, thrown by handlers and by the machinery before them. */
export class HttpError extends Error {
  override readonly name = 'HttpError';
  readonly status: number;
  readonly errors: readonly Fault[] | undefined;
  readonly issues: readonly [OutcomeIssue, ...OutcomeIssue[]] | undefined;
  readonly headers: Readonly<Record<string, string>>;
  readonly clientKey: number | undefined;

  constructor(facts: HttpErrorFacts) {
    super(facts.detail);
    this.status = facts.status;
    this.errors = facts.errors;
    this.issues = facts.issues;
    this.headers = facts.headers ?? {};
    this.clientKey = facts.clientKey;
  }
}
