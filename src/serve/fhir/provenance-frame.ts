/** The parts of a Provenance that are told in one way, whatever its target is (FHIR R4, resource Provenance). */
import type {
  CodeableConcept,
  Provenance,
  ProvenanceAgent,
  ProvenanceEntity,
  Reference,
} from 'fhir/r4.js';
import type { Cause, CausingMerge, KeptBytes } from '../../store/provenance-search.js';
import { GATEWAY, GATEWAY_NAME, personReference, programReference } from './agents.js';
import { provenanceId } from './provenance-id.js';
import { renderNarrative } from './render-narrative.js';
import { URI_SYSTEM } from './render-observation.js';

const DATA_OPERATION = 'http://terminology.hl7.org/CodeSystem/v3-DataOperation';
const PARTICIPANT = 'http://terminology.hl7.org/CodeSystem/provenance-participant-type';

/** Of the R4 value set provenance-activity-type, with the displays of its code system. */
const ACTIVITIES = { CREATE: 'create', UPDATE: 'revise', NULLIFY: 'nullify' } as const;

/** Of the R4 code system provenance-participant-type. */
type Part = 'author' | 'verifier' | 'performer' | 'composer' | 'assembler';

export function agent(part: Part, who: Reference, onBehalfOf?: Reference): ProvenanceAgent {
  const display = part.charAt(0).toUpperCase() + part.slice(1);
  const type = { coding: [{ system: PARTICIPANT, code: part, display }] };
  return onBehalfOf === undefined ? { type, who } : { type, who, onBehalfOf };
}

/** A person and the program that was used, else the program that asked, else `other`. */
export function deciders(
  part: Part,
  { person, program }: Cause,
  other: Reference,
): ProvenanceAgent[] {
  if (person === null) return [agent(part, program === null ? other : programReference(program))];
  const author = agent(part, personReference(person));
  return program === null ? [author] : [author, agent('composer', programReference(program))];
}

/** Bytes that were kept, with their hash. */
export function sourceEntity({ submissionId, sha256 }: KeptBytes, what: string): ProvenanceEntity {
  const identifier = { system: URI_SYSTEM, value: `urn:uuid:${submissionId}` };
  const display = `${what}, SHA-256 ${sha256.toString('hex')}`;
  return { role: 'source', what: { identifier, display } };
}

export function versionReference(
  type: 'Observation' | 'Patient',
  id: string,
  version: number,
): Reference {
  return { reference: `${type}/${id}/_history/${version}`, type };
}

/** What there was before this version. */
export function revisionOf(what: Reference): ProvenanceEntity {
  return { role: 'revision', what };
}

/** Something else that this version comes from. */
export function derivedFrom(what: Reference): ProvenanceEntity {
  return { role: 'derivation', what };
}

/** What a merge brought with it: its message, if it came by one, and the other patient. */
export function mergeEntities({ kept, otherPatientId }: CausingMerge): ProvenanceEntity[] {
  const other = { reference: `Patient/${otherPatientId}`, type: 'Patient' };
  const message = kept === null ? [] : [sourceEntity(kept, 'The merge, as it arrived')];
  return [...message, derivedFrom(other)];
}

/** How a version came to be. */
export interface Told {
  readonly type: 'Observation' | 'Patient';
  readonly id: string;
  readonly version: number;
  readonly stampMs: number;
  readonly activity: keyof typeof ACTIVITIES;
  /** Who did it, beside the gateway, which puts every resource together. */
  readonly by: readonly ProvenanceAgent[];
  /** By whose rules the gateway did; null: none. */
  readonly edition: number | null;
  readonly entities: readonly ProvenanceEntity[];
  readonly reason: CodeableConcept | null;
  readonly occurredMs?: number | undefined;
  /** For the narrative: what was done, and by whom. */
  readonly deed: string;
}

export function renderProvenance(told: Told): Provenance {
  const { type, id, version, activity, by, edition, entities, reason, occurredMs, deed } = told;
  const recorded = new Date(told.stampMs).toISOString();
  const name = edition === null ? GATEWAY_NAME : `${GATEWAY_NAME}, edition ${edition}`;
  const why = reason?.text === undefined ? [] : [`Reason: ${reason.text}`];
  return {
    resourceType: 'Provenance',
    id: provenanceId(type, id, version),
    meta: { versionId: '1', lastUpdated: recorded },
    text: renderNarrative([`Version ${version} of ${type}/${id}: ${deed}.`, ...why]),
    target: [versionReference(type, id, version)],
    ...(occurredMs === undefined ? {} : { occurredDateTime: new Date(occurredMs).toISOString() }),
    recorded,
    ...(reason === null ? {} : { reason: [reason] }),
    activity: {
      coding: [{ system: DATA_OPERATION, code: activity, display: ACTIVITIES[activity] }],
    },
    agent: [...by, agent('assembler', { ...GATEWAY, display: name })],
    ...(entities.length === 0 ? {} : { entity: [...entities] }),
  };
}
