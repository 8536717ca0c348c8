/** One submission and its bytes. */
import type { Request, Response } from 'express';
import { readFates } from '../../../store/arrivals.js';
import type { Pool } from '../../../store/pool.js';
import { findMessageFacts } from '../../../store/review-messages.js';
import { findReviewReadingsOf } from '../../../store/review-readings.js';
import { findSubmission, findSubmissionBytes } from '../../../store/review-submissions.js';
import { noteLook } from '../../http/audit-requests.js';
import type { Route, SignedIn } from '../../http/route.js';
import { sendPage } from '../../pages/send-page.js';
import { idOf, noSuchSubmission } from '../../review/access.js';
import { sendKeptBytes } from '../../review/send-kept-bytes.js';
import { toInertText } from './inert-text.js';
import { SubmissionContent } from './submission-page.js';
import type { ShownSubmission } from './submission-page.js';

export interface SubmissionServices {
  readonly pool: Pool;
  /** IANA name of the zone in which times are shown. */
  readonly siteZone: string;
}

async function readAll(
  { pool, siteZone }: SubmissionServices,
  id: string,
): Promise<ShownSubmission | null> {
  const found = await findSubmission(pool, id);
  const kept = await findSubmissionBytes(pool, id);
  if (found === null || kept === null) return null;
  return {
    facts: found.facts,
    fate: (await readFates(pool, [id])).get(id),
    message: await findMessageFacts(pool, id),
    readings: await findReviewReadingsOf(pool, id),
    bytes: toInertText(kept.bytes),
    answer: toInertText(found.answer),
    zone: siteZone,
  };
}

function patientsOf({ readings }: ShownSubmission): string[] {
  return [...new Set(readings.map(({ version }) => version.patient.id))];
}

export function submissionPageRoutes(services: SubmissionServices): Route[] {
  return [
    {
      method: 'get',
      path: '/desk/submissions/:id',
      by: 'session',
      scopes: ['review.read'],
      summary: 'One submission: its bytes, what was answered, what came of it',
      audit: { action: 'review-read', entity: 'submissions/:id' },
      async handler(req: Request, res: Response, caller: SignedIn) {
        const shown = await readAll(services, idOf(req, noSuchSubmission));
        if (shown === null) throw noSuchSubmission();
        noteLook(res, { patientIds: patientsOf(shown) });
        const facts = { title: 'What arrived', current: '/desk/rejected', caller, wide: true };
        sendPage(res, facts, <SubmissionContent {...shown} />);
      },
    },
    {
      method: 'get',
      path: '/desk/submissions/:id/bytes',
      by: 'session',
      scopes: ['review.read'],
      summary: 'The bytes of a submission as a file',
      audit: { action: 'review-raw', entity: 'submissions/:id' },
      async handler(req: Request, res: Response) {
        const id = idOf(req, noSuchSubmission);
        const readings = await findReviewReadingsOf(services.pool, id);
        noteLook(res, {
          patientIds: [...new Set(readings.map(({ version }) => version.patient.id))],
        });
        await sendKeptBytes(services.pool, res, id);
      },
    },
  ];
}
