/** Several readings decided at once: each by itself, with what came of each. */
import type { Request, Response } from 'express';
import { findReviewReading } from '../../../store/review-readings.js';
import type { ReviewReading } from '../../../store/review-readings.js';
import { HttpError } from '../../http/http-error.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import { isUuid } from '../../http/route.js';
import type { Route, SignedIn } from '../../http/route.js';
import { Mark } from '../../pages/parts/mark.js';
import { Notice } from '../../pages/parts/notice.js';
import { Table } from '../../pages/parts/table.js';
import { signText } from '../../pages/parts/value-text.js';
import { readingValue } from '../../pages/parts/words.js';
import { sendPage } from '../../pages/send-page.js';
import { reasonOf } from '../held/row-facts.js';
import type { HeldServices } from '../services.js';
import { DecisionSentence } from './overtaken.js';
import { findOvertaking, sendDecision } from './send-decision.js';
import type { DecisionResult, Overtaken } from './send-decision.js';

const MOST_AT_ONCE = 100;

/** A reading as it was marked: what it was when the person saw it. */
interface Marked {
  readonly id: string;
  readonly version: number;
}

interface Outcome {
  readonly reading: ReviewReading;
  readonly result: DecisionResult;
  /** Where it was refused. */
  readonly overtaken: Overtaken | null;
}

function refuse(detail: string): HttpError {
  return new HttpError({ status: 400, detail });
}

function readMarked(form: URLSearchParams): Marked[] {
  const marked = form.getAll('reading').map((text) => {
    const [id = '', version = ''] = text.split(' ');
    if (!isUuid(id) || !/^\d{1,5}$/.test(version)) throw refuse('A mark cannot be read.');
    return { id, version: Number(version) };
  });
  if (marked.length === 0) throw refuse('No reading was marked; nothing was done.');
  if (marked.length > MOST_AT_ONCE) {
    throw refuse(`At most ${MOST_AT_ONCE} readings are decided at once; nothing was done.`);
  }
  return marked;
}

/** Those that are still held must be so for one reason; what has changed meanwhile is told one by one. */
async function readReadings(
  { review: { pool } }: HeldServices,
  marked: readonly Marked[],
): Promise<ReviewReading[]> {
  const readings: ReviewReading[] = [];
  for (const { id } of marked) {
    const reading = await findReviewReading(pool, id);
    if (reading === null)
      throw refuse('One of the marked readings is not there; nothing was done.');
    readings.push(reading);
  }
  const held = readings.filter(({ version }) => version.hold !== null);
  if (new Set(held.map(reasonOf)).size > 1) {
    throw refuse(
      'The marked readings are held for different reasons; nothing was done. Choose one reason in the list, then mark.',
    );
  }
  return readings;
}

async function decideAll(
  services: HeldServices,
  req: Request,
  caller: SignedIn,
): Promise<Outcome[]> {
  const form = formOf(req);
  const marked = readMarked(form);
  const readings = await readReadings(services, marked);
  const outcomes: Outcome[] = [];
  for (const [index, reading] of readings.entries()) {
    const result = await sendDecision(services.review, caller, reading.version.readingId, {
      action: form.get('action') ?? '',
      reason: form.get('reason') ?? '',
      reasonCode: form.get('reasonCode') ?? '',
      expectedVersion: marked[index]?.version ?? 0,
    });
    const overtaken =
      result.done || result.status !== 409
        ? null
        : await findOvertaking(services.review, reading.version.readingId);
    outcomes.push({ reading, result, overtaken });
  }
  return outcomes;
}

function Result({ outcome, zone }: { outcome: Outcome; zone: string }) {
  const { result, overtaken } = outcome;
  if (result.done) return <Mark tone="good">Done</Mark>;
  return (
    <>
      <Mark tone="caution">Not done</Mark> {[result.detail, ...result.points].join(' ')}{' '}
      {overtaken?.last && <DecisionSentence decision={overtaken.last} zone={zone} />}
    </>
  );
}

function sendOutcomes(
  { siteZone }: HeldServices,
  res: Response,
  caller: SignedIn,
  outcomes: readonly Outcome[],
): void {
  const done = outcomes.filter(({ result }) => result.done).length;
  sendPage(
    res,
    { title: 'Decided together', current: '/desk', caller },
    <>
      <Notice kind={done === outcomes.length ? 'done' : 'caution'}>
        {done} of {outcomes.length} were decided.
      </Notice>
      <Table
        caption="What came of each"
        columns={[
          {
            head: 'Reading',
            rowHead: true,
            cell: ({ reading: { version } }) => (
              <a href={`/desk/readings/${version.readingId}`}>
                {signText(version.vital)} {readingValue(version)}
              </a>
            ),
          },
          { head: 'Patient', cell: ({ reading }) => reading.version.patient.identifier.value },
          { head: 'Result', cell: (outcome) => <Result outcome={outcome} zone={siteZone} /> },
        ]}
        rows={outcomes}
        keyOf={({ reading }) => reading.version.readingId}
        empty=""
      />
      <p>
        <a href="/desk">To the held readings</a>
      </p>
    </>,
  );
}

export function decideTogetherRoute(services: HeldServices): Route {
  return {
    method: 'post',
    path: '/desk/decisions',
    by: 'session',
    scopes: ['review.write'],
    summary: 'Decide several readings that are held for the same reason',
    audit: { by: 'act-and-refusals' },
    body: FORM_BODY,
    async handler(req, res, caller) {
      sendOutcomes(services, res, caller, await decideAll(services, req, caller));
    },
  };
}
