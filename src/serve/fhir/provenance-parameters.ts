/** The search parameters of Provenance (SearchParameter resources of FHIR R4). */
import type { ProvenanceCondition, ProvenanceTarget } from '../../store/provenance-search.js';
import { shownBy } from '../../store/shown-observations.js';
import { readProvenanceId } from './provenance-id.js';
import { DEFINITIONS } from './search-parameter.js';
import type { ParameterReader, SearchContext, SearchParameter } from './search-parameter.js';
import { resolveTime, timeRanges } from './search-times.js';
import { readVersionId } from './site.js';
import { readPlain } from './token-values.js';

const TARGET = /^(?:(Observation|Patient)\/)?([^/]+)(?:\/_history\/(\d+))?$/;

/** A reference to a version, or to a resource in any of its versions; what cannot be one of ours is none. */
function readTarget(value: string, { baseUrl }: SearchContext): ProvenanceTarget[] {
  const text = readPlain(value);
  const local = text.startsWith(`${baseUrl}/`) ? text.slice(baseUrl.length + 1) : text;
  const [, type, id = '', number] = TARGET.exec(local) ?? [];
  const version = number === undefined ? null : readVersionId(number);
  if (shownBy(id) === null || (number !== undefined && version === null)) return [];
  return [{ type: (type ?? null) as ProvenanceTarget['type'], id, version }];
}

/** @param only the type that every target must have; null: either */
function targetReader(
  only: 'Observation' | 'Patient' | null,
): ParameterReader<ProvenanceCondition> {
  const of = (target: ProvenanceTarget): ProvenanceTarget[] => {
    if (only === null) return [target];
    return (target.type ?? only) === only ? [{ ...target, type: only }] : [];
  };
  return {
    name: only === null ? 'target' : `target:${only}`,
    condition: (values, context) => ({
      on: 'target',
      targets: values.flatMap((value) => readTarget(value, context)).flatMap(of),
    }),
  };
}

export const PROVENANCE_PARAMETERS: readonly SearchParameter<ProvenanceCondition>[] = [
  {
    ...targetReader(null),
    type: 'reference',
    definition: `${DEFINITIONS}Provenance-target`,
    documentation:
      'An Observation or a Patient: id, Type/id or the absolute URL here; with /_history/version that version alone.',
    forms: [targetReader('Observation'), targetReader('Patient')],
  },
  {
    ...targetReader('Patient'),
    name: 'patient',
    type: 'reference',
    definition: `${DEFINITIONS}Provenance-patient`,
    documentation:
      'A Patient that is the target itself. For a patient’s Observations: Observation?patient=…&_revinclude=Provenance:target.',
  },
  {
    name: 'recorded',
    type: 'date',
    definition: `${DEFINITIONS}Provenance-recorded`,
    documentation: 'When the target version became visible.',
    condition: (values, context) => ({ on: 'recorded', ranges: timeRanges(values, context) }),
    resolve: resolveTime,
  },
  {
    name: '_id',
    type: 'token',
    definition: `${DEFINITIONS}Resource-id`,
    documentation: 'Logical ids.',
    condition: (values) => ({
      on: 'target',
      targets: values.map(readPlain).flatMap((id) => readProvenanceId(id) ?? []),
    }),
  },
  {
    name: '_lastUpdated',
    type: 'date',
    definition: `${DEFINITIONS}Resource-lastUpdated`,
    documentation: 'As recorded: a Provenance never changes.',
    condition: (values, context) => ({ on: 'recorded', ranges: timeRanges(values, context) }),
    resolve: resolveTime,
  },
];
