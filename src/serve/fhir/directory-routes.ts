import type { Route } from '../http/route.js';
import { DIRECTORY_TYPES, readDirectory, searchDirectory } from './directory-answers.js';
import { fhirHandler } from './fhir-handler.js';
import { reading, search } from './route-kinds.js';
import type { FhirSite } from './site.js';

/** What observations point to beside patients: each type is read and searched. */
export function directoryRoutes(site: FhirSite): Route[] {
  return DIRECTORY_TYPES.flatMap((directory): Route[] => {
    const { type, parameters } = directory;
    return [
      ...search(
        type,
        parameters,
        fhirHandler((pairs, req) => searchDirectory(directory, site, pairs, req)),
      ),
      reading(
        `/fhir/${type}/:id`,
        `system/${type}.r`,
        `The present state of one ${type}`,
        fhirHandler((_, req) => readDirectory(directory, site, req)),
      ),
    ];
  });
}
