import type { OutcomeIssue } from './render-outcome.js';

/** What a lenient search left out. */
export function passedOver(parameter: string): OutcomeIssue {
  return {
    severity: 'warning',
    code: 'not-supported',
    text: `${parameter} is not offered here and was passed over.`,
    expression: `http.${parameter}`,
  };
}
