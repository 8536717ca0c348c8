import type { Route } from '../http/route.js';
import { associationListRoutes } from './association-lists.js';
import { associationRoutes } from './association-routes.js';
import { deviceListRoutes } from './device-lists.js';
import { deviceRoutes } from './device-routes.js';
import { mappingRoutes } from './mapping-routes.js';
import type { RegistryServices } from './services.js';
import { sourceRoutes } from './source-routes.js';

/** The registry of sources and devices; clients are registered beside it. */
export function registryRoutes(services: RegistryServices): Route[] {
  return [
    ...sourceRoutes(services),
    ...mappingRoutes(services),
    ...deviceRoutes(services),
    ...deviceListRoutes(services),
    ...associationRoutes(services),
    ...associationListRoutes(services),
  ];
}
