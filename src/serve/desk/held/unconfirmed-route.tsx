/** A report to print: what went out unconfirmed on some days, and what became of it. */
import type { Request, Response } from 'express';
import { z } from 'zod';
import { listSentUnconfirmed } from '../../../store/list-unconfirmed.js';
import { findLastDecisions } from '../../../store/review-history.js';
import type { KeptDecision } from '../../../store/review-history.js';
import { findReviewReadings } from '../../../store/review-readings.js';
import type { ReviewReading } from '../../../store/review-readings.js';
import { zoneClock } from '../../../vitals/zone-time.js';
import { noteLook } from '../../http/audit-requests.js';
import { HttpError } from '../../http/http-error.js';
import type { Route, SignedIn } from '../../http/route.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment, writeMoment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { signText } from '../../pages/parts/value-text.js';
import { readingValue } from '../../pages/parts/words.js';
import { sendPage } from '../../pages/send-page.js';
import { withinReach } from '../../review/access.js';
import { readQuery } from '../../review/read-search.js';
import { DecisionSentence } from '../decide/overtaken.js';
import type { HeldServices } from '../services.js';
import { groundsOf, personName } from './row-facts.js';

const MOST_ROWS = 500;
const DAY_MS = 86_400_000;
const DAY = /^\d{4}-\d{2}-\d{2}$/;

const FORM = z.strictObject({
  from: z.string().regex(DAY, 'must be a day such as 2026-03-01').optional(),
  to: z.string().regex(DAY, 'must be a day such as 2026-03-01').optional(),
});

interface Sent {
  readonly sentMs: number;
  readonly reading: ReviewReading;
  readonly decision: KeptDecision | null;
}

interface Days {
  readonly from: string;
  readonly to: string;
  readonly fromMs: number;
  /** The end of the last day. */
  readonly toMs: number;
}

function dayStart(day: string, zone: string, later: number): number {
  const [year = 0, month = 0, date = 0] = day.split('-').map(Number);
  const wall = { year, month, day: date + later, hour: 0, minute: 0, second: 0 };
  return zoneClock(zone).firstMomentAt(wall);
}

/** The days asked for; yesterday and today when none are. */
function readDays(req: Request, zone: string): Days {
  const asked = readQuery(req, FORM);
  const today = writeMoment(Date.now(), zone).slice(0, 10);
  const to = asked.to ?? today;
  const from = asked.from ?? writeMoment(dayStart(to, zone, 0) - DAY_MS / 2, zone).slice(0, 10);
  if (from > to)
    throw new HttpError({ status: 400, detail: 'The first day is after the last one.' });
  return { from, to, fromMs: dayStart(from, zone, 0), toMs: dayStart(to, zone, 1) };
}

async function readSent({ review: { pool } }: HeldServices, days: Days): Promise<Sent[]> {
  const sent = await withinReach(listSentUnconfirmed(pool, days.fromMs, days.toMs, MOST_ROWS + 1));
  const ids = sent.map(({ readingId }) => readingId);
  const decisions = await findLastDecisions(pool, ids);
  const readings = await findReviewReadings(pool, ids);
  const byId = new Map(readings.map((one) => [one.version.readingId, one]));
  return sent.flatMap(({ readingId, sentMs }) => {
    const reading = byId.get(readingId);
    return reading === undefined
      ? []
      : [{ sentMs, reading, decision: decisions.get(readingId) ?? null }];
  });
}

function Became({ sent, zone }: { sent: Sent; zone: string }) {
  const { reading, decision } = sent;
  if (decision !== null) return <DecisionSentence decision={decision} zone={zone} />;
  if (reading.version.hold !== null) return <Mark tone="caution">Still unconfirmed</Mark>;
  return <>no longer held: {reading.version.status ?? reading.version.verdict}</>;
}

function Report({ rows, days, zone }: { rows: readonly Sent[]; days: Days; zone: string }) {
  const open = rows.filter(({ reading }) => reading.version.hold !== null).length;
  const critical = rows.filter(({ reading }) => reading.critical).length;
  return (
    <>
      <p class="lead">
        {rows.length > MOST_ROWS ? `The first ${MOST_ROWS}` : rows.length} from {days.from} to{' '}
        {days.to}, {critical} of them critical; {open} still unconfirmed.
      </p>
      <Table
        caption="Readings that went out as preliminary because nobody had decided, or because they were critical; oldest first"
        columns={[
          { head: 'Went out', cell: ({ sentMs }) => <Moment atMs={sentMs} zone={zone} /> },
          {
            head: 'Reading',
            rowHead: true,
            cell: ({ reading: { version, critical: isCritical } }) => (
              <>
                <a href={`/desk/readings/${version.readingId}`}>
                  {signText(version.vital)} {readingValue(version)}
                </a>{' '}
                {isCritical && <Mark tone="urgent">Critical</Mark>}
              </>
            ),
          },
          {
            head: 'Patient',
            cell: ({ reading }) => (
              <>
                {personName(reading.registered?.name)}
                <span class="under">{reading.version.patient.identifier.value}</span>
              </>
            ),
          },
          { head: 'Where', cell: ({ reading }) => reading.version.location ?? '–' },
          {
            head: 'Why it was held',
            cell: ({ reading }) =>
              groundsOf(reading)
                .map(({ message }) => message)
                .join(' '),
          },
          { head: 'What became of it', cell: (sent) => <Became sent={sent} zone={zone} /> },
        ]}
        rows={rows.slice(0, MOST_ROWS)}
        keyOf={({ reading }) => reading.version.readingId}
        empty="Nothing went out unconfirmed on these days."
      />
    </>
  );
}

async function showReport(
  services: HeldServices,
  req: Request,
  res: Response,
  caller: SignedIn,
): Promise<void> {
  const { siteZone: zone } = services;
  const days = readDays(req, zone);
  const rows = await readSent(services, days);
  noteLook(res, { patientIds: rows.map(({ reading }) => reading.version.patient.id) });
  sendPage(
    res,
    { title: 'What went out unconfirmed', current: '/desk', caller, wide: true },
    <>
      <form class="row filter no-print" method="get" action="/desk/unconfirmed">
        <div class="field">
          <label for="from">First day</label>
          <input id="from" name="from" type="date" value={days.from} required />
        </div>
        <div class="field">
          <label for="to">Last day</label>
          <input id="to" name="to" type="date" value={days.to} required />
        </div>
        <button type="submit">Show</button>
        <button type="button" class="print">
          Print
        </button>
      </form>
      <Report rows={rows} days={days} zone={zone} />
      <p class="soft">
        As at <Moment atMs={Date.now()} zone={zone} />, for {caller.session.name}. Times in {zone}.
      </p>
    </>,
  );
}

export function unconfirmedRoute(services: HeldServices): Route {
  return {
    method: 'get',
    path: '/desk/unconfirmed',
    by: 'session',
    scopes: ['review.read'],
    summary: 'What went out unconfirmed',
    audit: { action: 'desk-unconfirmed' },
    parameters: [
      { name: 'from', in: 'query', description: 'The first day.' },
      { name: 'to', in: 'query', description: 'The last day.' },
    ],
    handler: (req, res, caller) => showReport(services, req, res, caller),
  };
}
