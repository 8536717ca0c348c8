import type { Area } from '../http/route.js';
import { findPatientRoute } from './find-patient-route.js';
import { pageRoutes } from './page-routes.js';
import { PAGE_PATH } from './page.js';
import { sessionRoute, voucherRoute } from './person-routes.js';
import type { BedsideServices } from './services.js';
import { siteRoute } from './site-route.js';

/** The page itself, and what its scripts ask. */
export function bedsideAreas(services: BedsideServices): Area[] {
  return [
    {
      name: 'bedside page',
      description: 'The page for whoever takes a set',
      prefix: PAGE_PATH,
      errorStyle: 'page',
      routes: [...pageRoutes(), sessionRoute()],
    },
    {
      name: 'bedside',
      description: 'What the bedside page asks beside checking and sending sets',
      prefix: PAGE_PATH,
      errorStyle: 'problem',
      routes: [siteRoute(services), findPatientRoute(services), voucherRoute(services)],
    },
  ];
}
