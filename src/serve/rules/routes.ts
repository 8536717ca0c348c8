import type { Area } from '../http/route.js';
import { editionRoutes } from './edition-routes.js';
import { rulesRoute } from './rules-route.js';
import type { RulesServices } from './services.js';
import { trialRoutes } from './trial-routes.js';

/** Rules and limits: what they are, trying others, putting others into force. */
export function rulesArea(services: RulesServices): Area {
  return {
    name: 'rules',
    description: 'Rules and limits: what they are, trying others, putting others into force',
    prefix: '/rules',
    errorStyle: 'problem',
    routes: [rulesRoute(services), ...editionRoutes(services), ...trialRoutes(services)],
  };
}
