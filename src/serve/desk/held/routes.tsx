import type { Route } from '../../http/route.js';
import { sendPage } from '../../pages/send-page.js';

export function heldRoutes(): Route[] {
  return [
    {
      method: 'get',
      path: '/desk',
      by: 'session',
      scopes: ['review.read'],
      summary: 'Held readings',
      handler(_req, res, caller) {
        sendPage(res, { title: 'Held readings', current: '/desk', caller }, <p>Nothing yet.</p>);
      },
    },
  ];
}
