/** What may come along with Observations. */
import { KNOWN_DEVICES, KNOWN_ENCOUNTERS, KNOWN_PEOPLE } from '../../store/find-directory.js';
import type { Directory } from '../../store/find-directory.js';
import { findPatients } from '../../store/find-patients.js';
import { findObservations } from '../../store/search-observations.js';
import type { ObservationVersion } from '../../store/shown-observations.js';
import type { Identifier } from '../../vitals/shapes.js';
import type { Brought, SearchInclude } from './includes.js';
import { toPatient } from './patient-answers.js';
import { OBSERVATION_PROVENANCE } from './provenance-includes.js';
import { renderShown } from './render-derived.js';
import { renderDevice, renderEncounter, renderPractitioner } from './render-directory.js';

type Include = SearchInclude<ObservationVersion>;
type Directed = 'Device' | 'Encounter' | 'Practitioner';

const loadPatients: Include['load'] = async ({ pool }, rows, asOfMs) => {
  const ids = [...new Set(rows.map(({ patient }) => patient.id))];
  const conditions = [{ on: 'id', ids }] as const;
  const found = await findPatients(pool, { conditions, asOfMs, afterId: null, limit: ids.length });
  return found.map((kept) => ({ resource: toPatient(kept), shown: { type: 'Patient' } }));
};

/** By the identifier that the Observation names: the reference itself is a logical one. */
function loadNamed<Found>(
  type: Directed,
  identifierOf: (row: ObservationVersion) => Identifier | null,
  { find }: Directory<Found>,
  render: (found: Found) => Brought['resource'],
): Include['load'] {
  return async ({ pool }, rows) => {
    const named = rows.map(identifierOf).filter((one) => one !== null);
    const distinct = new Map(named.map((one) => [`${one.system}|${one.value}`, one]));
    if (distinct.size === 0) return [];
    const conditions = [{ on: 'pairs', identifiers: [...distinct.values()] }] as const;
    const found = await find(pool, { conditions, afterId: null, limit: distinct.size });
    return found.map((one) => ({ resource: render(one), shown: { type } }));
  };
}

/** The reading that a value was calculated from, as it was at that stamp. */
const loadSources: Include['load'] = async ({ pool }, rows, asOfMs) => {
  const derived = rows.filter(({ shown }) => shown !== 'reading');
  const ids = [...new Set(derived.map(({ readingId }) => readingId))];
  if (ids.length === 0) return [];
  const found = await findObservations(pool, {
    conditions: [{ on: 'id', ids }],
    ...{ asOfMs, shown: ['reading'], sort: [], after: null, limit: ids.length },
  });
  return found.map((version) => ({
    resource: renderShown(version),
    shown: { type: 'Observation', version },
  }));
};

function include(name: string, type: Include['type'], load: Include['load']): Include {
  return { by: '_include', name: `Observation:${name}`, type, to: type, load };
}

/** Nobody records or measures what was calculated. */
function ofReading<T>(pick: (row: ObservationVersion) => T): (row: ObservationVersion) => T | null {
  return (row) => (row.shown === 'reading' ? pick(row) : null);
}

export const OBSERVATION_INCLUDES: readonly Include[] = [
  include('patient', 'Patient', loadPatients),
  include('subject', 'Patient', loadPatients),
  include(
    'device',
    'Device',
    loadNamed(
      'Device',
      ofReading(({ device }) => device),
      KNOWN_DEVICES,
      renderDevice,
    ),
  ),
  include(
    'encounter',
    'Encounter',
    loadNamed('Encounter', ({ encounter }) => encounter, KNOWN_ENCOUNTERS, renderEncounter),
  ),
  include(
    'performer',
    'Practitioner',
    loadNamed(
      'Practitioner',
      ofReading(({ recorder }) => recorder),
      KNOWN_PEOPLE,
      renderPractitioner,
    ),
  ),
  include('derived-from', 'Observation', loadSources),
  OBSERVATION_PROVENANCE,
];
