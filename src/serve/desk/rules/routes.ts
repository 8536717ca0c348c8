import type { Route } from '../../http/route.js';
import { editionPageRoutes } from './edition-routes.js';
import { rulesPageRoute } from './rules-route.js';
import type { RulePagesServices } from './services.js';
import { trialPageRoutes } from './trial-routes.js';

/** Rules and limits: what they are, what others would change, who put them into force. */
export function rulePagesRoutes(services: RulePagesServices): Route[] {
  return [rulesPageRoute(services), ...editionPageRoutes(services), ...trialPageRoutes(services)];
}
