/** Trials: a change tried on sets that were received, from the form to a result that can be read. */
import type { Request, Response } from 'express';
import { findTrial, listTrials } from '../../../store/trials.js';
import type { TrialRecord } from '../../../store/trials.js';
import { HttpError } from '../../http/http-error.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import { isUuid, pathParameter } from '../../http/route.js';
import type { Route, SignedIn } from '../../http/route.js';
import { countText } from '../../pages/parts/count-text.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { sendPage } from '../../pages/send-page.js';
import { actorOf } from '../../rules/services.js';
import { actorText } from '../parts/actor-text.js';
import { queryOf } from '../parts/query-of.js';
import { RULES_PATH, RuleSides, TRIAL_ACCESS, TRIALS_PATH } from './rule-sides.js';
import type { RulePagesServices } from './services.js';
import { configurationInForce, fieldsOf, sendTrialForm, startTrial } from './start-trial.js';
import { TrialContent, TrialMark } from './trial-page.js';

const LISTED = 100;

function listRoute({ pool, siteZone: zone }: RulePagesServices): Route {
  return {
    ...TRIAL_ACCESS,
    method: 'get',
    path: TRIALS_PATH,
    summary: 'Trials of changed limits',
    async handler(_req: Request, res: Response, caller: SignedIn) {
      const trials = await listTrials(pool, LISTED);
      sendPage(
        res,
        { title: 'Trials', current: RULES_PATH, caller, wide: true },
        <>
          <RuleSides caller={caller} here="trials" />
          <p>
            <a href={`${TRIALS_PATH}/new`}>Try a change</a>
          </p>
          <Table
            caption="The last trials, the newest first"
            columns={[
              {
                head: 'Asked for',
                rowHead: true,
                cell: ({ trialId, requestedMs }: TrialRecord) => (
                  <a href={`${TRIALS_PATH}/${trialId}`}>
                    <Moment atMs={requestedMs} zone={zone} seconds />
                  </a>
                ),
              },
              { head: 'By', cell: ({ requestedBy }) => actorText(requestedBy) },
              { head: 'Stands as', cell: ({ state }) => <TrialMark state={state} /> },
              { head: 'Sets judged', numeric: true, cell: ({ setsJudged }) => setsJudged },
              {
                head: 'What came of it',
                cell: ({ result }) =>
                  result === null ? '–' : `${countText(result.changed, 'verdict')} would be others`,
              },
            ]}
            rows={trials}
            keyOf={({ trialId }) => trialId}
            empty="Nothing was tried yet."
          />
        </>,
      );
    },
  };
}

function formRoute(services: RulePagesServices): Route {
  return {
    ...TRIAL_ACCESS,
    method: 'get',
    path: `${TRIALS_PATH}/new`,
    summary: 'Try a changed limit',
    handler: (req: Request, res: Response, caller: SignedIn) =>
      sendTrialForm(services, res, caller, fieldsOf(queryOf(req)), null),
  };
}

function startRoute(services: RulePagesServices): Route {
  return {
    ...TRIAL_ACCESS,
    method: 'post',
    path: TRIALS_PATH,
    summary: 'Begin a trial',
    body: FORM_BODY,
    audit: { action: 'trial-start', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const fields = fieldsOf(formOf(req));
      const outcome = await startTrial(services, caller, fields);
      if ('status' in outcome) {
        await sendTrialForm(services, res, caller, fields, outcome);
        return;
      }
      res.status(303).setHeader('Location', `${TRIALS_PATH}/${outcome.trialId}`).end();
    },
  };
}

async function trialOf(services: RulePagesServices, req: Request): Promise<TrialRecord> {
  const id = pathParameter(req, 'id');
  const trial = isUuid(id) ? await findTrial(services.pool, id.toLowerCase()) : null;
  if (trial === null) throw new HttpError({ status: 404, detail: 'There is no such trial.' });
  return trial;
}

function readRoute(services: RulePagesServices): Route {
  return {
    ...TRIAL_ACCESS,
    method: 'get',
    path: `${TRIALS_PATH}/:id`,
    summary: 'One trial',
    async handler(req: Request, res: Response, caller: SignedIn) {
      const trial = await trialOf(services, req);
      const inForce = await configurationInForce(services);
      const shown = { trial, inForce, zone: services.siteZone };
      sendPage(
        res,
        { title: 'Trial', current: RULES_PATH, caller, wide: true },
        <TrialContent {...{ shown, caller }} />,
      );
    },
  };
}

function cancelRoute(services: RulePagesServices): Route {
  return {
    ...TRIAL_ACCESS,
    method: 'post',
    path: `${TRIALS_PATH}/:id/cancel`,
    summary: 'Stop a trial',
    body: FORM_BODY,
    audit: { action: 'trial-cancel', entity: 'trials/:id', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const { trialId } = await trialOf(services, req);
      // One that has ended meanwhile is shown as it ended.
      await services.trials.cancel(await actorOf(services.names, caller), trialId);
      res.status(303).setHeader('Location', `${TRIALS_PATH}/${trialId}`).end();
    },
  };
}

export function trialPageRoutes(services: RulePagesServices): Route[] {
  return [
    listRoute(services),
    formRoute(services),
    startRoute(services),
    readRoute(services),
    cancelRoute(services),
  ];
}
