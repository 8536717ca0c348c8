import { createHash } from 'node:crypto';
import type { Response } from 'express';
import type { Pool } from '../../store/pool.js';
import { findSubmissionBytes } from '../../store/review-submissions.js';
import { noSuchSubmission } from './access.js';

/**
 * Sends the bytes of a submission exactly as they arrived, as a file that no browser shows as a page.
 *
 * @throws HttpError 404 when there is none; Error when the bytes no longer match their hash
 */
export async function sendKeptBytes(pool: Pool, res: Response, id: string): Promise<void> {
  const kept = await findSubmissionBytes(pool, id);
  if (kept === null) throw noSuchSubmission();
  if (!createHash('sha256').update(kept.bytes).digest().equals(kept.sha256)) {
    throw new Error(`the kept bytes of submission ${id} no longer match their hash`);
  }
  res.setHeader('Content-Type', 'application/octet-stream');
  res.setHeader('Content-Disposition', `attachment; filename="submission-${id}"`);
  res.setHeader('X-Content-Type-Options', 'nosniff');
  res.setHeader('Repr-Digest', `sha-256=:${kept.sha256.toString('base64')}:`);
  res.end(kept.bytes);
}
