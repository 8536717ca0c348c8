import { toFhirJson } from '../../../src/serve/fhir/fhir-json.js';
import { renderOutcome } from '../../../src/serve/fhir/render-outcome.js';
import { schemaFaults } from '../../fhir-validation/r4-json-schema.js';

describe('renderOutcome', () => {
  it('carries each issue, and no element that was not given', () => {
    const outcome = renderOutcome([
      { severity: 'information', code: 'suppressed', text: 'Two readings are held.' },
      {
        severity: 'error',
        code: 'value',
        text: 'The date is not a date.',
        diagnostics: 'date=2026-02-30',
        expression: 'http.date',
      },
    ]);
    expect(outcome.issue).toEqual([
      { severity: 'information', code: 'suppressed', details: { text: 'Two readings are held.' } },
      {
        severity: 'error',
        code: 'value',
        details: { text: 'The date is not a date.' },
        diagnostics: 'date=2026-02-30',
        expression: ['http.date'],
      },
    ]);
    expect(schemaFaults('OperationOutcome', JSON.parse(toFhirJson(outcome)))).toEqual([]);
  });
});
