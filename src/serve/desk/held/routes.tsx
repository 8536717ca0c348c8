import type { Request, Response } from 'express';
import { countHeld, readLastStamp } from '../../../store/held-figures.js';
import { listReviewReadings } from '../../../store/review-readings.js';
import { noteLook } from '../../http/audit-requests.js';
import type { Route, SignedIn } from '../../http/route.js';
import { sendPage } from '../../pages/send-page.js';
import { withinReach } from '../../review/access.js';
import { writeCursor } from '../../review/cursor.js';
import type { HeldServices } from '../services.js';
import { heldEventsRoute } from './events-route.js';
import { HeldPage } from './held-page.js';
import { HELD_PARAMETERS, heldAddress, readHeldSearch } from './read-held-search.js';
import { unconfirmedRoute } from './unconfirmed-route.js';

const ON_A_PAGE = 50;

async function showHeld(
  { review: { pool }, siteZone, heldRules }: HeldServices,
  req: Request,
  res: Response,
  caller: SignedIn,
): Promise<void> {
  const asked = readHeldSearch(req);
  const { search, state, rule, vital } = asked;
  // The stamp goes first: what is committed after it is told as a change, even if the list has it already.
  const stampMs = await readLastStamp(pool);
  const counts = await countHeld(pool);
  const { readings, next } = await withinReach(
    listReviewReadings(pool, search, asked.after, { page: ON_A_PAGE, count: 0 }),
  );
  noteLook(res, {
    patientIds: readings.map(({ version }) => version.patient.id),
    detail: { readings: readings.map(({ version }) => version.readingId) },
  });
  const after = next === null ? null : writeCursor([next.rank, next.atMs, next.id], search);
  sendPage(
    res,
    { title: 'Held readings', current: '/desk', caller, wide: true },
    <HeldPage
      {...{ asked, readings, counts, stampMs, caller }}
      next={after === null ? null : heldAddress({ state, rule, vital, after })}
      rules={heldRules}
      zone={siteZone}
      nowMs={Date.now()}
    />,
  );
}

export function heldRoutes(services: HeldServices): Route[] {
  return [
    {
      method: 'get',
      path: '/desk',
      by: 'session',
      scopes: ['review.read'],
      summary: 'Held readings',
      audit: { action: 'desk-held' },
      parameters: HELD_PARAMETERS,
      handler: (req, res, caller) => showHeld(services, req, res, caller),
    },
    heldEventsRoute(services.feed),
    unconfirmedRoute(services),
  ];
}
