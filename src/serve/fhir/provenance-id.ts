import type { ProvenanceTarget } from '../../store/provenance-search.js';
import { shownBy } from '../../store/shown-observations.js';
import { readVersionId } from './site.js';

/** Short, because an id has 64 characters at most and those of calculated values are long. */
const WORDS = { Observation: 'obs', Patient: 'pat' } as const;
const ID = /^(obs|pat)-(.+)-(\d+)$/;

/** The id of the Provenance of one version: a function of its target alone, so that nobody need keep it. */
export function provenanceId(type: 'Observation' | 'Patient', id: string, version: number): string {
  return `${WORDS[type]}-${id}-${version}`;
}

/** The version whose Provenance has this id; null: it cannot be one of ours. */
export function readProvenanceId(text: string): (ProvenanceTarget & { version: number }) | null {
  const [, word, id = '', number = ''] = ID.exec(text) ?? [];
  const version = readVersionId(number);
  if (word === undefined || shownBy(id) === null || version === null) return null;
  return { type: word === WORDS.Patient ? 'Patient' : 'Observation', id, version };
}
