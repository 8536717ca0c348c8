/** SearchParameters and OperationDefinitions: read and searched. They change with the program only. */
import type { Request } from 'express';
import { pathParameter } from '../../http/route.js';
import type { Route } from '../../http/route.js';
import { matchEntry } from '../bundle.js';
import { fhirHandler } from '../fhir-handler.js';
import type { FhirAnswer } from '../fhir-handler.js';
import { toFhirJson } from '../fhir-json.js';
import { handlingOf } from '../negotiate.js';
import { parseSearch } from '../parse-search.js';
import type { Pair } from '../query-parameters.js';
import { badValue, refusal } from '../refuse.js';
import { reading, search } from '../route-kinds.js';
import { answerPage } from '../search.js';
import { shapeResource } from '../shape-resource.js';
import type { FhirSite } from '../site.js';
import { DEFINITION_PARAMETERS } from './definition-parameters.js';
import type { Definition } from './render-definitions.js';

type DefinitionType = Definition['resourceType'];

const DEFINITION_ID = /^[A-Za-z0-9.-]{1,64}$/;

function searchDefinitions(
  type: DefinitionType,
  definitions: readonly Definition[],
  { baseUrl, siteMs }: FhirSite,
  pairs: readonly Pair[],
  req: Request,
): Promise<FhirAnswer> {
  const context = { siteMs, baseUrl, nowMs: 0 };
  const parameters = DEFINITION_PARAMETERS[type];
  const offer = { shaped: true };
  const asked = parseSearch(pairs, parameters, handlingOf(req.headers), context, offer);
  if (asked.sort !== null && asked.sort !== '_id') throw badValue('_sort', 'takes _id here');
  const met = definitions.filter((one) => asked.conditions.every((condition) => condition(one)));
  const placeOf = ({ id = '' }: Definition): string => id;
  return answerPage({
    type: 'searchset',
    path: `${baseUrl}/${type}`,
    search: asked,
    asOfMs: 0,
    isId: (text) => DEFINITION_ID.test(text),
    fetch: (after, limit) =>
      Promise.resolve(
        met.filter((one) => after === null || placeOf(one) > after.id).slice(0, limit),
      ),
    count: () => Promise.resolve(met.length),
    entryOf: (one) =>
      matchEntry(`${baseUrl}/${type}/${placeOf(one)}`, shapeResource(one, asked.shape)),
    placeOf: (one) => ({ keyMs: 0, id: placeOf(one), version: 0 }),
  });
}

function readDefinition(
  type: DefinitionType,
  definitions: readonly Definition[],
  req: Request,
): FhirAnswer {
  const id = pathParameter(req, 'id');
  const found = definitions.find((one) => one.id === id);
  if (found === undefined) throw refusal(404, 'not-found', `There is no such ${type}.`);
  return { status: 200, text: toFhirJson(found) };
}

/** @param definitions what the CapabilityStatement speaks of, in the order of the ids */
export function definitionRoutes(site: FhirSite, definitions: readonly Definition[]): Route[] {
  return (['SearchParameter', 'OperationDefinition'] as const).flatMap((type) => {
    const own = definitions.filter(({ resourceType }) => resourceType === type);
    return [
      ...search(
        type,
        DEFINITION_PARAMETERS[type],
        fhirHandler((pairs, req) => searchDefinitions(type, own, site, pairs, req)),
      ),
      reading(
        `/fhir/${type}/:id`,
        `system/${type}.r`,
        `One ${type}`,
        fhirHandler((_, req) => readDefinition(type, own, req)),
      ),
    ];
  });
}
