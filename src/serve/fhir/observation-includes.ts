/** What may come along with Observations. */
import { KNOWN_DEVICES, KNOWN_ENCOUNTERS, KNOWN_PEOPLE } from '../../store/find-directory.js';
import type { Directory } from '../../store/find-directory.js';
import { findPatients } from '../../store/find-patients.js';
import { findObservations } from '../../store/search-observations.js';
import type { ObservationCondition } from '../../store/observation-conditions.js';
import type { Pool } from '../../store/pool.js';
import type { ObservationVersion, Shown, ShownReading } from '../../store/shown-observations.js';
import type { Identifier } from '../../vitals/shapes.js';
import { DERIVED_KINDS } from '../../vitals/words.js';
import type { Brought, SearchInclude } from './includes.js';
import { toPatient } from './patient-answers.js';
import { OBSERVATION_PROVENANCE } from './provenance-includes.js';
import { refusal } from './refuse.js';
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
  const ids = rows.flatMap((row) =>
    row.shown === 'reading' || row.shown === 'panel' ? [] : [row.readingId],
  );
  return bringObservations(pool, { on: 'id', ids: [...new Set(ids)] }, ['reading'], asOfMs);
};

/** The members of panels, likewise. */
const loadMembers: Include['load'] = async ({ pool }, rows, asOfMs) => {
  const ids = rows.flatMap((row) => (row.shown === 'panel' ? row.members : []));
  return bringObservations(pool, { on: 'id', ids: [...new Set(ids)] }, ['reading'], asOfMs);
};

/** What refers to a reading. */
function loadReferring(
  on: 'derived-from' | 'has-member',
  shown: readonly Shown[],
): Include['load'] {
  return async ({ pool }, rows, asOfMs) => {
    const ids = rows.flatMap((row) => (row.shown === 'reading' ? [row.readingId] : []));
    return bringObservations(pool, { on, ids }, shown, asOfMs);
  };
}

/** However many members the panels of one page have. */
const MOST_BROUGHT = 5000;

/** As they were at that stamp. */
async function bringObservations(
  pool: Pool,
  condition: Extract<ObservationCondition, { on: 'id' | 'derived-from' | 'has-member' }>,
  shown: readonly Shown[],
  asOfMs: number,
): Promise<Brought[]> {
  if (condition.ids.length === 0) return [];
  const found = await findObservations(pool, {
    conditions: [condition],
    ...{ asOfMs, shown, sort: [], after: null, limit: MOST_BROUGHT + 1 },
  });
  if (found.length > MOST_BROUGHT) {
    const text = `More than ${MOST_BROUGHT} Observations would come along: ask for fewer matches by _count.`;
    throw refusal(400, 'too-costly', text);
  }
  return found.map((version) => ({
    resource: renderShown(version),
    shown: { type: 'Observation', version },
  }));
}

function include(name: string, type: Include['type'], load: Include['load']): Include {
  return { by: '_include', name: `Observation:${name}`, type, to: type, load };
}

function revinclude(name: string, load: Include['load']): Include {
  return {
    ...{ by: '_revinclude', name: `Observation:${name}`, type: 'Observation', to: 'Observation' },
    load,
  };
}

/** Nobody measures what was calculated, or a panel. */
function ofReading<T>(pick: (row: ShownReading) => T): (row: ObservationVersion) => T | null {
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
      (row) => (row.shown === 'reading' || row.shown === 'panel' ? row.recorder : null),
      KNOWN_PEOPLE,
      renderPractitioner,
    ),
  ),
  include('derived-from', 'Observation', loadSources),
  OBSERVATION_PROVENANCE,
  include('has-member', 'Observation', loadMembers),
  revinclude('derived-from', loadReferring('derived-from', DERIVED_KINDS)),
  revinclude('has-member', loadReferring('has-member', ['panel'])),
];
