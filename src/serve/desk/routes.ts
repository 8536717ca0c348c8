import type { Area } from '../http/route.js';
import { heldRoutes } from './held/routes.js';

/** The analyst's pages: a folder each, joined here. */
export function deskArea(): Area {
  return {
    name: 'desk',
    description: 'The pages of those who look at what was held and refused',
    prefix: '/desk',
    errorStyle: 'page',
    routes: [...heldRoutes()],
  };
}
