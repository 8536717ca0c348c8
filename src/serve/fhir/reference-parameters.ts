/** Search parameters of Observation for what it refers to (FHIR R4 §3.1.1.4.13 and .12). */
import type { ObservationCondition } from '../../store/observation-conditions.js';
import type { PointedKind } from '../../store/reference-conditions.js';
import { shownBy } from '../../store/shown-observations.js';
import { DEFINITIONS, readIdentifierTokens, referencedIds } from './search-parameter.js';
import type { ParameterReader, SearchContext, SearchParameter } from './search-parameter.js';
import { isId } from './site.js';

type Reader = ParameterReader<ObservationCondition>;
type Parameter = SearchParameter<ObservationCondition>;

function ofPatients(values: readonly string[], context: SearchContext): ObservationCondition {
  return { on: 'patient', ids: referencedIds(values, 'Patient', context).filter(isId) };
}

function patientNamed(by: 'patient' | 'observation'): Reader['condition'] {
  return (values) => ({ on: 'patient-named', tokens: readIdentifierTokens(values), by });
}

/** The ways in which a reference to one type may be asked for beside its plain name. */
function formsOf(
  name: string,
  type: string,
  plain: Reader['condition'],
  named: { readonly here: Reader['condition']; readonly there: Reader['condition'] },
): Reader[] {
  return [
    { name: `${name}:${type}`, condition: plain },
    { name: `${name}:identifier`, condition: named.here },
    { name: `${name}.identifier`, condition: named.there },
    { name: `${name}:${type}.identifier`, condition: named.there },
  ];
}

const PATIENT_FORMS = {
  here: patientNamed('observation'),
  there: patientNamed('patient'),
};

/** What has one identifier only: that of the reference is that of the resource. */
function pointing(
  name: string,
  type: string,
  to: PointedKind,
  facts: Pick<Parameter, 'definition' | 'documentation'>,
): Parameter {
  const plain: Reader['condition'] = (values, context) => ({
    on: 'pointed',
    to,
    at: { ids: referencedIds(values, type, context).filter(isId) },
  });
  const named: Reader['condition'] = (values) => ({
    on: 'pointed',
    to,
    at: { named: readIdentifierTokens(values) },
  });
  const forms = formsOf(name, type, plain, { here: named, there: named });
  return { name, type: 'reference', ...facts, condition: plain, forms };
}

function readingIds(values: readonly string[], context: SearchContext): string[] {
  return referencedIds(values, 'Observation', context).filter(
    (id) => shownBy(id)?.as === 'reading',
  );
}

export const REFERENCE_PARAMETERS: readonly Parameter[] = [
  {
    name: 'patient',
    type: 'reference',
    definition: `${DEFINITIONS}clinical-patient`,
    documentation:
      'Who was measured: id, Patient/id, or the absolute URL here. patient.identifier=system|value finds by any identifier that the patient ever had, patient:identifier by that which the Observation names.',
    condition: ofPatients,
    forms: formsOf('patient', 'Patient', ofPatients, PATIENT_FORMS),
  },
  {
    name: 'subject',
    type: 'reference',
    definition: `${DEFINITIONS}Observation-subject`,
    documentation:
      'As patient: every subject here is a Patient. Also subject:Patient.identifier and subject:identifier.',
    condition: ofPatients,
    forms: formsOf('subject', 'Patient', ofPatients, PATIENT_FORMS),
  },
  pointing('device', 'Device', 'device', {
    definition: `${DEFINITIONS}Observation-device`,
    documentation:
      'What measured it: id or Device/id; device:identifier=system|value by what the Observation names.',
  }),
  pointing('encounter', 'Encounter', 'encounter', {
    definition: `${DEFINITIONS}clinical-encounter`,
    documentation:
      'In which visit: id or Encounter/id; encounter:identifier=system|value by what the Observation names.',
  }),
  pointing('performer', 'Practitioner', 'recorder', {
    definition: `${DEFINITIONS}Observation-performer`,
    documentation:
      'Who took it: id or Practitioner/id; performer:identifier=system|value by what the Observation names.',
  }),
  {
    name: 'derived-from',
    type: 'reference',
    definition: `${DEFINITIONS}Observation-derived-from`,
    documentation: 'What was calculated from this Observation: id or Observation/id.',
    condition: (values, context) => ({
      on: 'derived-from',
      ids: readingIds(values, context),
    }),
  },
  {
    name: 'has-member',
    type: 'reference',
    definition: `${DEFINITIONS}Observation-has-member`,
    documentation: 'The panel that this Observation is a member of: id or Observation/id.',
    condition: (values, context) => ({ on: 'has-member', ids: readingIds(values, context) }),
  },
];
