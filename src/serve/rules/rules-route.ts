import type { Request, Response } from 'express';
import { editionName } from '../../vitals/answers.js';
import { readRuleCounts } from '../../store/rule-counts.js';
import { describeBands, describeSettings } from '../../vitals/describe-settings.js';
import { jsonResponse, sendJson } from '../http/responses.js';
import type { Route } from '../http/route.js';
import type { RulesServices } from './services.js';

const SILENT = { last24Hours: 0, last7Days: 0 };

export function rulesRoute({ pool, editions, describeRules, clock }: RulesServices): Route {
  return {
    method: 'get',
    path: '/rules',
    scopes: ['rules.read'],
    summary: 'Every rule: what it complains of, by which numbers, from where, how often lately',
    responses: { 200: jsonResponse('The rules of the edition in force.', 'rules') },
    async handler(_req: Request, res: Response) {
      const nowMs = clock();
      const { number, limits } = (await editions.inForce(pool))(nowMs);
      const counts = await readRuleCounts(pool, nowMs);
      sendJson(res, 200, {
        edition: editionName(number),
        rules: describeRules(limits).map(({ settings, since, ...rule }) => ({
          ...rule,
          since: editionName(since),
          spoke: counts.get(rule.rule) ?? SILENT,
          settings,
        })),
        interpretation: { settings: describeBands(limits) },
        derivedValues: {
          enabled: limits.derives,
          settings: describeSettings(limits, 'derived-values'),
        },
      });
    },
  };
}
