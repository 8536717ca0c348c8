/** What the pages of the desk need, from the services of the gateway. */
import { describeRules } from './describe-rules.js';
import { RULES } from './rules/index.js';
import { speaksOfOthers } from './rules/report-doubts.js';
import type { DeskServices } from './serve/desk/routes.js';
import type { Services } from './services.js';

/** @param siteZone IANA name of the zone in which times are read and shown */
export function deskServices(services: Services, siteZone: string): DeskServices {
  const { pool, readers, names, editions, trials, wiring, audit, registry } = services;
  const clock = Date.now;
  return {
    figures: { pool: readers, siteZone, clock, speaksOfOthers },
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
