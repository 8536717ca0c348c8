/** One page of what was refused, whatever is looked at, with what the audit trail is to say of it. */
import { z } from 'zod';
import { readFates } from '../../../store/arrivals.js';
import { listReviewReadings } from '../../../store/review-readings.js';
import type { ReviewPosition, ReviewReading } from '../../../store/review-readings.js';
import { listSubmissions } from '../../../store/review-submissions.js';
import { listUnread } from '../../../store/unread-rows.js';
import type { ListedUnreadRow, UnreadPosition } from '../../../store/unread-rows.js';
import type { Looked } from '../../http/locals.js';
import { readCursor, writeCursor } from '../../review/cursor.js';
import { toReadingSearch, toSubmissionSearch, toUnreadSearch } from './search-fields.js';
import type { RejectedSearch } from './search-fields.js';
import type { RejectedServices } from './services.js';
import type { Refusal } from './submissions-list.js';

/** Beyond this many the page says "more than" and counting stops. */
export const MOST_COUNTED = 1_000;
export const PAGE_ROWS = 50;

/** How many a page takes, and how far it counts; an export only takes. */
export interface PageSize {
  readonly rows: number;
  readonly count: number;
}

/** Where the next page goes on; null: this is the last. */
export interface Page<Row, Place> {
  readonly rows: readonly Row[];
  readonly next: Place | null;
  /** What was shown, for the audit trail. */
  readonly looked: Looked;
}

export interface ReadingsPage extends Page<ReviewReading, ReviewPosition> {
  /** From its first row on; counted as far as asked. */
  readonly found: number;
}

/** @throws SearchTooBroad as the store does */
export async function findReadings(
  { pool }: RejectedServices,
  search: RejectedSearch,
  after: ReviewPosition | null,
  size: PageSize,
): Promise<ReadingsPage> {
  const sizes = { page: size.rows, count: size.count };
  const { readings, found, next } = await listReviewReadings(
    pool,
    toReadingSearch(search),
    after,
    sizes,
  );
  const patientIds = [...new Set(readings.map(({ version }) => version.patient.id))];
  const detail = { readings: readings.map(({ version }) => version.readingId) };
  return { rows: readings, found, next, looked: { patientIds, detail } };
}

/** @throws SearchTooBroad as the store does */
export async function findSubmissions(
  { pool }: RejectedServices,
  search: RejectedSearch,
  afterId: string | null,
  rows: number,
): Promise<Page<Refusal, string>> {
  const found = await listSubmissions(pool, toSubmissionSearch(search), afterId, rows + 1);
  const page = found.slice(0, rows);
  const ids = page.map(({ submissionId }) => submissionId);
  const fates = await readFates(pool, ids);
  const refusals = page.map((facts) => ({ facts, fate: fates.get(facts.submissionId) }));
  const next = found.length > rows ? (ids.at(-1) ?? null) : null;
  return { rows: refusals, next, looked: { detail: { submissions: ids } } };
}

/** @throws SearchTooBroad as the store does */
export async function findUnread(
  { pool }: RejectedServices,
  search: RejectedSearch,
  after: UnreadPosition | null,
  rows: number,
): Promise<Page<ListedUnreadRow, UnreadPosition>> {
  const found = await listUnread(pool, toUnreadSearch(search), after, rows + 1);
  const page = found.slice(0, rows);
  const submissions = [...new Set(page.map(({ submissionId }) => submissionId))];
  const next = found.length > rows ? (page.at(-1) ?? null) : null;
  return { rows: page, next, looked: { detail: { submissions } } };
}

const READING_PLACE = z.tuple([z.int(), z.int(), z.uuid()]);
const SUBMISSION_PLACE = z.tuple([z.uuid()]);
const ROW_PLACE = z.tuple([z.uuid(), z.int()]);

/** The places of cursors, tied to their search. @throws HttpError 400 for a cursor of another search */
export function readingPlace(search: RejectedSearch): ReviewPosition | null {
  if (search.cursor === undefined) return null;
  const [rank, atMs, id] = readCursor(search.cursor, tieOf(search), READING_PLACE);
  return { rank, atMs, id };
}

export function submissionPlace(search: RejectedSearch): string | null {
  if (search.cursor === undefined) return null;
  return readCursor(search.cursor, tieOf(search), SUBMISSION_PLACE)[0];
}

export function rowPlace(search: RejectedSearch): UnreadPosition | null {
  if (search.cursor === undefined) return null;
  const [submissionId, place] = readCursor(search.cursor, tieOf(search), ROW_PLACE);
  return { submissionId, place };
}

export function writePlace(search: RejectedSearch, place: readonly unknown[]): string {
  return writeCursor(place, tieOf(search));
}

/** What a page belongs to. */
function tieOf({ thing, fields }: RejectedSearch): unknown {
  return [thing, Object.entries(fields).sort()];
}
