import type { Area } from '../http/route.js';
import { mergeRoutes } from './merge-routes.js';
import { readingRoutes } from './reading-routes.js';
import { replayRoutes } from './replay-routes.js';
import type { ReviewServices } from './services.js';
import { submissionRoutes } from './submission-routes.js';
import { summaryRoute } from './summary-route.js';

/** What the analyst reaches: what was held and refused, why, and the decisions about it. */
export function reviewArea(services: ReviewServices): Area {
  return {
    name: 'review',
    description: 'What was held and refused, and why; decisions about it',
    prefix: '/review',
    errorStyle: 'problem',
    routes: [
      ...readingRoutes(services),
      ...submissionRoutes(services),
      ...mergeRoutes(services),
      ...replayRoutes(services),
      summaryRoute(services),
    ],
  };
}
