import type { Request, Response } from 'express';
import type { ComponentChildren } from 'preact';
import { noteLook } from '../../http/audit-requests.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import type { ParameterSpec, Route, SignedIn } from '../../http/route.js';
import { Notice } from '../../pages/parts/notice.js';
import { sendPage } from '../../pages/send-page.js';
import { idOf, noSuchReading } from '../../review/access.js';
import { DecisionSentence } from '../decide/overtaken.js';
import { readDecision } from '../decide/read-decision.js';
import { sendDecision } from '../decide/send-decision.js';
import type { DecisionResult } from '../decide/send-decision.js';
import type { HeldServices } from '../services.js';
import { drawHistory } from './draw-history.js';
import { ReadingPage, readingTitle } from './reading-page.js';
import { readReadingPage } from './read-page.js';
import type { ReadingPageFacts } from './read-page.js';

interface Shown {
  readonly facts: ReadingPageFacts;
  readonly caller: SignedIn;
  readonly status?: number;
  /** Above everything else. */
  readonly notice: ComponentChildren;
  readonly given: URLSearchParams | null;
}

async function findFacts(services: HeldServices, req: Request): Promise<ReadingPageFacts> {
  const facts = await readReadingPage(services.review, idOf(req, noSuchReading));
  if (facts === null) throw noSuchReading();
  return facts;
}

async function show(
  { siteZone: zone }: HeldServices,
  res: Response,
  { facts, caller, status = 200, notice, given }: Shown,
): Promise<void> {
  const { version } = facts.reading;
  noteLook(res, { patientIds: [version.patient.id] });
  const chart = await drawHistory(version, facts.history);
  sendPage(
    res,
    { title: readingTitle(facts), current: '/desk', caller, status },
    <>
      {notice}
      <ReadingPage {...{ facts, chart, zone, caller, given }} />
    </>,
  );
}

/** What a decision has come to, told at the head of the page that it leads back to. */
function Done({ facts, zone }: { facts: ReadingPageFacts; zone: string }) {
  const last = facts.decisions.at(-1);
  return (
    <Notice kind="done">
      {last !== undefined && <DecisionSentence decision={last} zone={zone} />}{' '}
      <a href="/desk">To the held readings</a>
    </Notice>
  );
}

function Refused({
  result,
  facts,
  given,
  zone,
}: {
  result: Extract<DecisionResult, { done: false }>;
  facts: ReadingPageFacts;
  given: URLSearchParams;
  zone: string;
}) {
  const last = facts.decisions.at(-1);
  const isOvertaken = Number(given.get('expectedVersion')) !== facts.reading.version.version;
  return (
    <Notice kind="fault">
      {result.detail}
      {result.points.length > 0 && (
        <ul>
          {result.points.map((point) => (
            <li key={point}>{point}</li>
          ))}
        </ul>
      )}
      {isOvertaken && last !== undefined && (
        <p>
          Meanwhile <DecisionSentence decision={last} zone={zone} />
        </p>
      )}
      {isOvertaken && <p>Below it is as it stands now; what you put in is still there.</p>}
    </Notice>
  );
}

async function decide(
  services: HeldServices,
  req: Request,
  res: Response,
  caller: SignedIn,
): Promise<void> {
  const { siteZone: zone } = services;
  const before = await findFacts(services, req);
  const given = formOf(req);
  const { version } = before.reading;
  const decision = readDecision(given, version);
  const result = await sendDecision(services.review, caller, version.readingId, decision);
  if (result.done) {
    res.status(303).setHeader('Location', `/desk/readings/${version.readingId}?done=yes`);
    res.end();
    return;
  }
  const facts = await findFacts(services, req);
  const notice = <Refused {...{ result, facts, given, zone }} />;
  await show(services, res, { facts, caller, status: result.status, notice, given });
}

const ID: ParameterSpec = { name: 'id', in: 'path', description: 'Id of the reading.' };

export function readingRoutes(services: HeldServices): Route[] {
  return [
    {
      method: 'get',
      path: '/desk/readings/:id',
      by: 'session',
      scopes: ['review.read'],
      summary: 'One reading',
      audit: { action: 'desk-reading', entity: 'readings/:id' },
      parameters: [ID, { name: 'done', in: 'query', description: 'A decision was carried out.' }],
      async handler(req, res, caller) {
        const facts = await findFacts(services, req);
        const isDone = req.query.done === 'yes' && facts.decisions.length > 0;
        const notice = isDone ? <Done facts={facts} zone={services.siteZone} /> : null;
        await show(services, res, { facts, caller, notice, given: null });
      },
    },
    {
      method: 'post',
      path: '/desk/readings/:id/decisions',
      by: 'session',
      scopes: ['review.write'],
      summary: 'Decide about a reading',
      audit: { by: 'act-and-refusals' },
      parameters: [ID],
      body: FORM_BODY,
      handler: (req, res, caller) => decide(services, req, res, caller),
    },
  ];
}
