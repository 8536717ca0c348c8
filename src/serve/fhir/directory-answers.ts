/** Devices, visits, people and places, as far as the gateway knows them: read by id, and searched. */
import type { Request } from 'express';
import type { FhirResource } from 'fhir/r4.js';
import {
  KNOWN_DEVICES,
  KNOWN_ENCOUNTERS,
  KNOWN_PEOPLE,
  KNOWN_PLACES,
} from '../../store/find-directory.js';
import type { Directory, DirectoryCondition } from '../../store/find-directory.js';
import { readLastStamp } from '../../store/publication-clock.js';
import { pathParameter } from '../http/route.js';
import { matchEntry } from './bundle.js';
import {
  DEVICE_PARAMETERS,
  ENCOUNTER_PARAMETERS,
  LOCATION_PARAMETERS,
  PRACTITIONER_PARAMETERS,
} from './directory-parameters.js';
import type { FhirAnswer } from './fhir-handler.js';
import { toFhirJson } from './fhir-json.js';
import { handlingOf } from './negotiate.js';
import { parseSearch } from './parse-search.js';
import type { Pair } from './query-parameters.js';
import { badValue, refusal } from './refuse.js';
import {
  renderDevice,
  renderEncounter,
  renderLocation,
  renderPractitioner,
} from './render-directory.js';
import { answerPage, ignoredEntries } from './search.js';
import type { SearchParameter } from './search-parameter.js';
import { shapeResource } from './shape-resource.js';
import { isId } from './site.js';
import type { FhirSite } from './site.js';

/** A type that is served in its present state, without versions. */
export interface DirectoryType {
  readonly type: 'Device' | 'Encounter' | 'Practitioner' | 'Location';
  readonly documentation: string;
  readonly parameters: readonly SearchParameter<DirectoryCondition>[];
  readonly known: Directory<FhirResource>;
}

function rendered<Found>(
  { find, count }: Directory<Found>,
  render: (found: Found) => FhirResource,
): Directory<FhirResource> {
  return { find: async (pool, page) => (await find(pool, page)).map(render), count };
}

export const DIRECTORY_TYPES: readonly DirectoryType[] = [
  {
    type: 'Device',
    documentation:
      'Devices that readings named or that are registered. meta.lastUpdated is of the registration; one that nobody registered has none.',
    parameters: DEVICE_PARAMETERS,
    known: rendered(KNOWN_DEVICES, renderDevice),
  },
  {
    type: 'Encounter',
    documentation:
      'Visits that readings or the register named, with the places and times that the register told of.',
    parameters: ENCOUNTER_PARAMETERS,
    known: rendered(KNOWN_ENCOUNTERS, renderEncounter),
  },
  {
    type: 'Practitioner',
    documentation: 'Those who took or decided on readings: no more than their identifiers.',
    parameters: PRACTITIONER_PARAMETERS,
    known: rendered(KNOWN_PEOPLE, renderPractitioner),
  },
  {
    type: 'Location',
    documentation:
      'Places that readings, devices and the register named, from the wide to the narrow.',
    parameters: LOCATION_PARAMETERS,
    known: rendered(KNOWN_PLACES, renderLocation),
  },
];

export async function readDirectory(
  { type, known }: DirectoryType,
  { pool }: FhirSite,
  req: Request,
): Promise<FhirAnswer> {
  const id = pathParameter(req, 'id');
  const conditions = [{ on: 'id', ids: [id] }] as const;
  const [found] = isId(id) ? await known.find(pool, { conditions, afterId: null, limit: 1 }) : [];
  if (found === undefined) throw refusal(404, 'not-found', `There is no such ${type}.`);
  return { status: 200, text: toFhirJson(found) };
}

export async function searchDirectory(
  { type, known, parameters }: DirectoryType,
  { pool, baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const asOfMs = await readLastStamp(pool);
  const context = { siteMs, baseUrl, nowMs: asOfMs };
  const offer = { shaped: true };
  const search = parseSearch(pairs, parameters, handlingOf(req.headers), context, offer);
  if (search.sort !== null && search.sort !== '_id') throw badValue('_sort', 'takes _id here');
  const { conditions, shape } = search;
  const idOf = ({ id = '' }: FhirResource): string => id;
  return answerPage({
    type: 'searchset',
    path: `${baseUrl}/${type}`,
    search,
    asOfMs,
    isId,
    fetch: (after, limit) => known.find(pool, { conditions, afterId: after?.id ?? null, limit }),
    count: () => known.count(pool, conditions),
    entryOf: (found) =>
      matchEntry(`${baseUrl}/${type}/${idOf(found)}`, shapeResource(found, shape)),
    placeOf: (found) => ({ keyMs: 0, id: idOf(found), version: 0 }),
    extraEntries: () => Promise.resolve(ignoredEntries(search)),
  });
}
