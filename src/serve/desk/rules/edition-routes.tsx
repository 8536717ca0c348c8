/** Editions: listed, read, proposed, put into force by somebody else, closed. */
import type { Request, Response } from 'express';
import { editionName } from '../../../vitals/answers.js';
import { readEditionDecision, readEditionProposal } from '../../../site-rules/read-rule-bodies.js';
import {
  approveEdition,
  listEditions,
  proposeEdition,
  refuseEdition,
} from '../../../store/editions.js';
import type { EditionRecord } from '../../../store/editions.js';
import { findTrial } from '../../../store/trials.js';
import { EDITION } from '../../../vitals/edition.js';
import { HttpError } from '../../http/http-error.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import { isUuid } from '../../http/route.js';
import type { Route, SignedIn } from '../../http/route.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { sendPage } from '../../pages/send-page.js';
import { editionNumberOf } from '../../rules/edition-routes.js';
import { editionRefusal, numberInForce, settle, stateOf } from '../../rules/edition-state.js';
import { actorOf, valueOf } from '../../rules/services.js';
import { actorText } from '../parts/actor-text.js';
import { EditionContent, InForceFrom, Standing } from './edition-page.js';
import { bytesOf, siteInstant } from './form-bodies.js';
import { EDITIONS_PATH, RULES_PATH, RuleSides } from './rule-sides.js';
import type { RulePagesServices } from './services.js';

const READERS = ['rules.read', 'rules.write', 'rules.approve'] as const;

/** The edition with what stands beside it. @throws HttpError 404 */
async function readShown({ pool, clock, siteZone }: RulePagesServices, number: number) {
  const nowMs = clock();
  const editions = await listEditions(pool);
  const current = numberInForce(editions, nowMs);
  const edition = editions.find((one) => one.number === number);
  const inForce = editions.find((one) => one.number === current);
  if (edition === undefined || inForce === undefined) throw editionRefusal('unknown');
  return { edition, inForce, standing: stateOf(edition, current, nowMs), zone: siteZone };
}

function EditionTable(facts: {
  editions: readonly EditionRecord[];
  current: number;
  nowMs: number;
  zone: string;
}) {
  const { editions, current, nowMs, zone } = facts;
  return (
    <Table
      caption="All editions, the newest first"
      columns={[
        {
          head: 'Edition',
          rowHead: true,
          cell: ({ number }: EditionRecord) => (
            <a href={`${EDITIONS_PATH}/${number}`}>{editionName(number)}</a>
          ),
        },
        {
          head: 'Stands as',
          cell: (edition) => <Standing standing={stateOf(edition, current, nowMs)} />,
        },
        { head: 'Judges from', cell: (edition) => <InForceFrom {...{ edition, zone }} /> },
        {
          head: 'Proposed',
          cell: ({ proposedBy, proposedMs }) => (
            <>
              {actorText(proposedBy)}, <Moment atMs={proposedMs} zone={zone} />
            </>
          ),
        },
        { head: 'Why', cell: ({ reason }) => reason },
        {
          head: 'Decided',
          cell: ({ decidedBy, decidedMs, decisionReason }) =>
            decidedMs !== null && (
              <>
                {actorText(decidedBy)}, <Moment atMs={decidedMs} zone={zone} />
                <br />
                {decisionReason}
              </>
            ),
        },
      ]}
      rows={editions.toReversed()}
      keyOf={({ number }) => String(number)}
      empty="There is no edition."
    />
  );
}

function listRoute({ pool, clock, siteZone: zone }: RulePagesServices): Route {
  return {
    method: 'get',
    path: EDITIONS_PATH,
    by: 'session',
    scopes: READERS,
    summary: 'Editions of rules and limits, and who put them into force',
    async handler(_req: Request, res: Response, caller: SignedIn) {
      const nowMs = clock();
      const editions = await listEditions(pool);
      const current = numberInForce(editions, nowMs);
      sendPage(
        res,
        { title: 'Editions', current: RULES_PATH, caller, wide: true },
        <>
          <RuleSides caller={caller} here="editions" />
          <p>
            An edition is a configuration of the rules by the site. Sets received while it is in
            force are judged by it; what was judged before keeps its verdict. One person proposes,
            another puts into force.
          </p>
          <EditionTable {...{ editions, current, nowMs, zone }} />
        </>,
      );
    },
  };
}

function readRoute(services: RulePagesServices): Route {
  return {
    method: 'get',
    path: `${EDITIONS_PATH}/:edition`,
    by: 'session',
    scopes: READERS,
    summary: 'One edition',
    async handler(req: Request, res: Response, caller: SignedIn) {
      const shown = await readShown(services, editionNumberOf(req));
      const title = `Edition ${editionName(shown.edition.number)}`;
      sendPage(
        res,
        { title, current: RULES_PATH, caller, wide: true },
        <EditionContent {...{ shown, caller }} />,
      );
    },
  };
}

/** What was tried is proposed: the configuration is that of a trial. */
function proposeRoute(services: RulePagesServices): Route {
  const { pool, names, clock, siteZone } = services;
  return {
    method: 'post',
    path: EDITIONS_PATH,
    by: 'session',
    scopes: ['rules.write'],
    summary: 'Propose what was tried as an edition',
    body: FORM_BODY,
    audit: { action: 'edition-propose', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const form = formOf(req);
      const id = form.get('trial') ?? '';
      const trial = isUuid(id) ? await findTrial(pool, id) : null;
      if (trial === null) throw new HttpError({ status: 404, detail: 'There is no such trial.' });
      const { configuration } = trial;
      const sent = bytesOf({
        configuration,
        reason: form.get('reason') ?? '',
        inForceFrom: siteInstant(form.get('from'), siteZone),
      });
      const body = valueOf(readEditionProposal(sent, clock()));
      const wantedFromMs = body.inForceFrom === undefined ? null : Date.parse(body.inForceFrom);
      const proposal = { program: EDITION, configuration: body.configuration, reason: body.reason };
      const by = await actorOf(names, caller);
      const number = await proposeEdition(pool, by, { ...proposal, wantedFromMs }, clock());
      res.status(303).setHeader('Location', `${EDITIONS_PATH}/${number}`).end();
    },
  };
}

function approveRoute(services: RulePagesServices): Route {
  const { pool, names, clock, siteZone } = services;
  return {
    method: 'post',
    path: `${EDITIONS_PATH}/:edition/approve`,
    by: 'session',
    scopes: ['rules.approve'],
    summary: 'Put an edition into force',
    body: FORM_BODY,
    audit: { action: 'edition-approve', entity: 'editions/:edition', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const number = editionNumberOf(req);
      const form = formOf(req);
      const sent = bytesOf({
        reason: form.get('reason') ?? '',
        inForceFrom: siteInstant(form.get('from'), siteZone),
      });
      const body = valueOf(readEditionDecision(sent, clock()));
      const fromMs = body.inForceFrom === undefined ? null : Date.parse(body.inForceFrom);
      const approval = { reason: body.reason, fromMs, program: EDITION };
      settle(await approveEdition(pool, await actorOf(names, caller), number, approval, clock));
      res.status(303).setHeader('Location', `${EDITIONS_PATH}/${number}`).end();
    },
  };
}

function refuseRoute({ pool, names, clock }: RulePagesServices): Route {
  return {
    method: 'post',
    path: `${EDITIONS_PATH}/:edition/refuse`,
    by: 'session',
    scopes: ['rules.approve', 'rules.write'],
    summary: 'Close a proposed edition',
    body: FORM_BODY,
    audit: { action: 'edition-refuse', entity: 'editions/:edition', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const number = editionNumberOf(req);
      const sent = bytesOf({ reason: formOf(req).get('reason') ?? '' });
      const { reason } = valueOf(readEditionDecision(sent, clock()));
      settle(await refuseEdition(pool, await actorOf(names, caller), number, reason, clock()));
      res.status(303).setHeader('Location', `${EDITIONS_PATH}/${number}`).end();
    },
  };
}

export function editionPageRoutes(services: RulePagesServices): Route[] {
  return [
    listRoute(services),
    readRoute(services),
    proposeRoute(services),
    approveRoute(services),
    refuseRoute(services),
  ];
}
