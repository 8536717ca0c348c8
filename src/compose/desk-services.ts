/** What the pages of the desk need, from the services of the gateway. */
import type { Logger } from 'pino';
import { describeRules } from '../site-rules/describe-rules.js';
import { RULES } from '../rules/index.js';
import { speaksOfOthers } from '../rules/report-doubts.js';
import { HeldFeed } from '../serve/desk/held/feed.js';
import type { DeskServices } from '../serve/desk/routes.js';
import { describeError } from '../serve/http/describe-error.js';
import type { ReviewServices } from '../serve/review/services.js';
import type { Services } from './services.js';
import { countHeld, countNewlyHeld, readLastStamp } from '../store/held-figures.js';
import type { Pool } from '../store/pool.js';
import { allowedActions } from '../verdict/decision-table.js';

/** What the review, and all pages that show or decide what it has, need. */
export function reviewServices(services: Services): ReviewServices {
  const { readers, names, pipeline, wiring, onPatientsChanged } = services;
  const { replay } = wiring;
  return { pool: readers, names, pipeline, allowedActions, replay, onPatientsChanged };
}

/** Follows the held readings for pages that are open. */
export function followHeld(pool: Pool, log: Logger): HeldFeed {
  return new HeldFeed(
    {
      readLastStamp: () => readLastStamp(pool),
      countHeld: () => countHeld(pool),
      countNewlyHeld: (afterMs, untilMs) => countNewlyHeld(pool, afterMs, untilMs),
    },
    (error) => {
      log.warn({ error: describeError(error) }, 'held readings cannot be followed');
    },
  );
}

/** @param siteZone IANA name of the zone in which times are read and shown */
export function deskServices(services: Services, feed: HeldFeed, siteZone: string): DeskServices {
  const { pool, readers, names, editions, trials, wiring, audit, registry } = services;
  const clock = Date.now;
  return {
    figures: { pool: readers, siteZone, clock, speaksOfOthers },
    held: {
      ...{ review: reviewServices(services), feed, siteZone },
      heldRules: RULES.filter(({ verdict }) => verdict === 'held').map(({ id }) => id),
    },
    rejected: {
      ...{ pool: readers, names, siteZone, clock },
      replay: wiring.replay,
      record(look) {
        audit.record(look);
      },
      ruleIds: RULES.map(({ id }) => id),
    },
    rules: { pool, names, editions, trials, describeRules, siteZone, clock },
    sources: {
      ...{ pool, names, siteZone, clock },
      directory: registry.directory,
      tryMessage: wiring.tryMessage,
    },
  };
}
