/**
 * FHIRPath invariants, word for word from the R4 (4.0.1) structure definitions of Observation, the
 * vital-signs profile, Patient, AuditEvent, DomainResource, Element, Extension and other data types; evaluated by `fhirpath`
 * with its R4 model. An empty result passes, as in the FHIRPath rules of the standard's validators.
 */
import fhirpath from 'fhirpath';
import r4 from 'fhirpath/fhir-context/r4';

interface Invariant {
  readonly key: string;
  /** The elements on which the standard puts the rule. */
  readonly on: string;
  readonly expression: string;
}

const INVARIANTS: readonly Invariant[] = [
  {
    key: 'vs-1',
    on: 'Observation.effective',
    expression: '($this as dateTime).toString().length() >= 8',
  },
  {
    key: 'vs-2',
    on: 'Observation',
    expression:
      '(component.empty() and hasMember.empty()) implies (dataAbsentReason.exists() or value.exists())',
  },
  {
    key: 'vs-3',
    on: 'Observation.component',
    expression: 'value.exists() or dataAbsentReason.exists()',
  },
  {
    key: 'obs-3',
    on: 'Observation.referenceRange',
    expression: 'low.exists() or high.exists() or text.exists()',
  },
  { key: 'obs-6', on: 'Observation', expression: 'dataAbsentReason.empty() or value.empty()' },
  {
    key: 'obs-7',
    on: 'Observation',
    expression:
      'value.empty() or component.code.where(coding.intersect(%resource.code.coding).exists()).empty()',
  },
  {
    key: 'ele-1',
    // The engine sees no value in an xhtml element; the narrative has a check of its own.
    on: '%resource.descendants().where(is(xhtml).not())',
    expression: 'hasValue() or (children().count() > id.count())',
  },
  {
    key: 'ext-1',
    on: '(%resource.extension | %resource.descendants().extension)',
    expression: 'extension.exists() != value.exists()',
  },
  {
    key: 'qty-3',
    on: '%resource.descendants().ofType(Quantity)',
    expression: 'code.empty() or system.exists()',
  },
  {
    key: 'per-1',
    on: '%resource.descendants().ofType(Period)',
    expression: 'start.hasValue().not() or end.hasValue().not() or (start <= end)',
  },
  {
    key: 'cpt-2',
    on: '%resource.descendants().ofType(ContactPoint)',
    expression: 'value.empty() or system.exists()',
  },
  {
    key: 'pat-1',
    on: 'Patient.contact',
    expression: 'name.exists() or telecom.exists() or address.exists() or organization.exists()',
  },
  { key: 'sev-1', on: 'AuditEvent.entity', expression: 'name.empty() or query.empty()' },
  { key: 'dom-2', on: '%resource', expression: 'contained.contained.empty()' },
  {
    key: 'dom-4',
    on: '%resource',
    expression: 'contained.meta.versionId.empty() and contained.meta.lastUpdated.empty()',
  },
  { key: 'dom-5', on: '%resource', expression: 'contained.meta.security.empty()' },
  { key: 'dom-6', on: '%resource', expression: 'text.`div`.exists()' },
];

/** US Core 9.0.0, us-core-patient: a name has a part, or says why it has none. */
const US_CORE_PATIENT_INVARIANTS: readonly Invariant[] = [
  {
    key: 'us-core-6',
    on: 'Patient.name',
    expression:
      "(family.exists() or given.exists()) xor extension.where(url='http://hl7.org/fhir/StructureDefinition/data-absent-reason').exists()",
  },
];

const rules = [...INVARIANTS, ...US_CORE_PATIENT_INVARIANTS].map(({ key, on, expression }) => ({
  key,
  evaluate: fhirpath.compile(`${on}.select(${expression})`, r4, { async: false }),
}));

/** The keys of the invariants that a resource breaks; `dom-3` is judged by hand, the engine cannot run it. */
export function invariantFaults(resource: object): string[] {
  const broken = rules
    .filter(({ evaluate }) => evaluate(resource, { resource }).includes(false))
    .map(({ key }) => `invariant ${key}`);
  // dom-3: whatever is contained must be referred to. Nothing rendered here contains anything.
  return 'contained' in resource ? [...broken, 'invariant dom-3'] : broken;
}
