import type { Route } from '../../http/route.js';
import { deviceListRoute, sourceListRoute } from './list-routes.js';
import { mappingPageRoutes } from './mapping-routes.js';
import type { SourcePagesServices } from './services.js';
import { sourcePageRoutes } from './source-routes.js';
import { messageTrialPageRoutes } from './trial-routes.js';

/** Sources and devices: how they do, what they sent, how their codes are read. */
export function sourcePagesRoutes(services: SourcePagesServices): Route[] {
  return [
    sourceListRoute(services),
    // Before the route of one source, whose id "devices" could be.
    deviceListRoute(services),
    ...sourcePageRoutes(services),
    ...mappingPageRoutes(services),
    ...messageTrialPageRoutes(services),
  ];
}
