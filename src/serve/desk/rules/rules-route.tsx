import type { Request, Response } from 'express';
import { editionName } from '../../../vitals/answers.js';
import { readRuleCounts } from '../../../store/rule-counts.js';
import { describeBands, describeSettings } from '../../../vitals/describe-settings.js';
import type { Route, SignedIn } from '../../http/route.js';
import { sendPage } from '../../pages/send-page.js';
import { queryOf } from '../parts/query-of.js';
import { mayTry, RULES_PATH, RuleSides } from './rule-sides.js';
import { RuleTable, Settings } from './rules-page.js';
import type { ShownRule } from './rules-page.js';
import type { RulePagesServices } from './services.js';

const SILENT = { last24Hours: 0, last7Days: 0 };

/** Which rules, and in which order. */
interface Choice {
  readonly verdict: string;
  readonly order: 'heard' | 'often';
}

function choiceOf(req: Request): Choice {
  const query = queryOf(req);
  return {
    verdict: query.get('verdict') ?? '',
    order: query.get('order') === 'often' ? 'often' : 'heard',
  };
}

function choose(rules: readonly ShownRule[], { verdict, order }: Choice): readonly ShownRule[] {
  const chosen = rules.filter((rule) => verdict === '' || rule.verdict === verdict);
  if (order === 'heard') return chosen;
  return [...chosen].sort((a, b) => b.spoke.last7Days - a.spoke.last7Days);
}

function Chooser({ verdict, order }: Choice) {
  return (
    <form class="search" method="get" action={RULES_PATH}>
      <div class="row">
        <div class="field">
          <label for="rules-verdict">Verdict</label>
          <select id="rules-verdict" name="verdict">
            <option value="">any</option>
            {['rejected', 'held', 'noted'].map((one) => (
              <option key={one} value={one} selected={one === verdict}>
                {one}
              </option>
            ))}
          </select>
        </div>
        <div class="field">
          <label for="rules-order">Order</label>
          <select id="rules-order" name="order">
            <option value="heard">as they are heard</option>
            <option value="often" selected={order === 'often'}>
              those that spoke most first
            </option>
          </select>
        </div>
      </div>
      <p>
        <button type="submit">Show</button>
      </p>
    </form>
  );
}

/** The rules of the edition in force. */
export function rulesPageRoute(services: RulePagesServices): Route {
  const { pool, editions, describeRules, clock } = services;
  return {
    method: 'get',
    path: RULES_PATH,
    by: 'session',
    scopes: ['rules.read'],
    summary: 'The rules, their sources and numbers, and how often each spoke',
    async handler(req: Request, res: Response, caller: SignedIn) {
      const nowMs = clock();
      const { number, limits } = (await editions.inForce(pool))(nowMs);
      const counts = await readRuleCounts(pool, nowMs);
      const rules = describeRules(limits).map((rule) => ({
        ...rule,
        spoke: counts.get(rule.rule) ?? SILENT,
      }));
      const choice = choiceOf(req);
      const may = mayTry(caller);
      sendPage(
        res,
        { title: 'Rules and limits', current: RULES_PATH, caller, wide: true },
        <>
          <RuleSides caller={caller} here="rules" />
          <Chooser {...choice} />
          <RuleTable rules={choose(rules, choice)} mayTry={may} edition={editionName(number)} />
          <h2>Interpretation (LL, L, H, HH)</h2>
          <Settings settings={describeBands(limits)} mayTry={may} />
          <h2>Calculated values</h2>
          <p>
            {limits.derives
              ? 'Pulse pressure and mean pressure are calculated and published.'
              : 'Pulse pressure and mean pressure are not calculated at this site.'}
          </p>
          <Settings settings={describeSettings(limits, 'derived-values')} mayTry={may} />
        </>,
      );
    },
  };
}
