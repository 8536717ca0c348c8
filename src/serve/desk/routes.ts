import type { Area } from '../http/route.js';
import { agreementRoutes } from './agreement/routes.js';
import type { FiguresServices } from './figures/services.js';
import { habitsRoutes } from './habits/routes.js';
import { decideTogetherRoute } from './decide/decide-together.js';
import { heldRoutes } from './held/routes.js';
import { readingRoutes } from './reading/routes.js';
import { rejectedRoutes } from './rejected/routes.js';
import type { RejectedServices } from './rejected/services.js';
import { rulePagesRoutes } from './rules/routes.js';
import type { RulePagesServices } from './rules/services.js';
import { sourcePagesRoutes } from './sources/routes.js';
import type { SourcePagesServices } from './sources/services.js';
import type { HeldServices } from './services.js';
import { submissionPageRoutes } from './submissions/routes.js';

/** What the pages need, folder by folder. */
export interface DeskServices {
  readonly held: HeldServices;
  /** Agreement and entry habits. */
  readonly figures: FiguresServices;
  readonly rejected: RejectedServices;
  readonly rules: RulePagesServices;
  readonly sources: SourcePagesServices;
}

/** The analyst's pages: a folder each, joined here. */
export function deskArea(services: DeskServices): Area {
  return {
    name: 'desk',
    description: 'The pages of those who look at what was held and refused',
    prefix: '/desk',
    errorStyle: 'page',
    routes: [
      ...heldRoutes(services.held),
      ...readingRoutes(services.held),
      decideTogetherRoute(services.held),
      ...rejectedRoutes(services.rejected),
      ...submissionPageRoutes(services.rejected),
      ...agreementRoutes(services.figures),
      ...habitsRoutes(services.figures),
      ...rulePagesRoutes(services.rules),
      ...sourcePagesRoutes(services.sources),
    ],
  };
}
