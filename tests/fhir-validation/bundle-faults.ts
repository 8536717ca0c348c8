/**
 * What is wrong with a Bundle: the official schema, the invariants of the R4 (4.0.1) structure
 * definition (bdl-1 to bdl-8; wording from memory, unconfirmed), and each resource in it.
 */
import fhirpath from 'fhirpath';
import r4 from 'fhirpath/fhir-context/r4';
import type { Bundle, FhirResource } from 'fhir/r4.js';
import { schemaFaults } from './r4-json-schema.js';
import { resourceFaults } from './resource-faults.js';

const WITH_REQUEST = "type = 'batch' or type = 'transaction' or type = 'history'";
const WITH_RESPONSE =
  "type = 'batch-response' or type = 'transaction-response' or type = 'history'";

const INVARIANTS: Readonly<Record<string, string>> = {
  'bdl-1': "total.empty() or (type = 'searchset') or (type = 'history')",
  'bdl-2': "entry.search.empty() or (type = 'searchset')",
  'bdl-3': `entry.all(request.exists() = %resource.select(${WITH_REQUEST}))`,
  'bdl-4': `entry.all(response.exists() = %resource.select(${WITH_RESPONSE}))`,
  'bdl-5': 'entry.all(resource.exists() or request.exists() or response.exists())',
  'bdl-7':
    "(type = 'history') or entry.where(fullUrl.exists()).select(fullUrl&resource.meta.versionId).isDistinct()",
  'bdl-8': "entry.fullUrl.all(contains('/_history/').not())",
};

const rules = Object.entries(INVARIANTS).map(([key, expression]) => ({
  key,
  evaluate: fhirpath.compile(expression, r4, { async: false }),
}));

const CHECKED = ['Observation', 'Patient', 'Provenance', 'AuditEvent'];

export function bundleFaults(bundle: Bundle<FhirResource>): string[] {
  const inside = (bundle.entry ?? []).flatMap(({ resource }) =>
    CHECKED.includes(resource?.resourceType ?? '') ? resourceFaults(JSON.stringify(resource)) : [],
  );
  return [
    ...schemaFaults('Bundle', bundle),
    ...rules
      .filter(({ evaluate }) => evaluate(bundle, { resource: bundle })[0] !== true)
      .map(({ key }) => `invariant ${key}`),
    ...inside,
  ];
}
