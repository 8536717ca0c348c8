/** What was found, taken out as a table: audited page by page, before anything of a page is sent. */
import type { Response } from 'express';
import { countReviewReadings } from '../../../store/review-readings.js';
import type { ReviewPosition, ReviewReading } from '../../../store/review-readings.js';
import { countSubmissions } from '../../../store/review-submissions.js';
import { countUnread } from '../../../store/unread-rows.js';
import type { ListedUnreadRow, UnreadPosition } from '../../../store/unread-rows.js';
import { noteLook } from '../../http/audit-requests.js';
import { HttpError } from '../../http/http-error.js';
import type { Looked } from '../../http/locals.js';
import { FORM_BODY, formOf } from '../../http/read-form.js';
import type { Route, SignedIn } from '../../http/route.js';
import { withinReach } from '../../review/access.js';
import { sendCsv } from '../../pages/csv.js';
import { readingColumns, submissionColumns, unreadColumns } from './csv-columns.js';
import { findReadings, findSubmissions, findUnread } from './find-page.js';
import type { Page } from './find-page.js';
import {
  readSearchFields,
  SEARCH_PARAMETERS,
  toReadingSearch,
  toSubmissionSearch,
  toUnreadSearch,
} from './search-fields.js';
import type { RejectedSearch } from './search-fields.js';
import { REJECTED_PATH } from './search-form.js';
import type { RejectedServices } from './services.js';
import type { Refusal } from './submissions-list.js';

/** What a table may have; more is refused, never cut. */
const MAX_ROWS = 100_000;
const PAGE = 500;

/** The request has one entry; each page that is sent has another, with what it shows. */
const EXPORTED = { action: 'export-csv', entity: 'desk/rejected' } as const;

/** Counting one further tells whether there are more. */
function countOf({ pool }: RejectedServices, search: RejectedSearch): Promise<number> {
  switch (search.thing) {
    case 'readings':
      return countReviewReadings(pool, toReadingSearch(search), MAX_ROWS + 1);
    case 'submissions':
      return countSubmissions(pool, toSubmissionSearch(search), MAX_ROWS + 1);
    case 'rows':
      return countUnread(pool, toUnreadSearch(search), MAX_ROWS + 1);
  }
}

/** @param record takes down what a page shows, before it is sent */
async function* allPages<Row, Place>(
  find: (after: Place | null) => Promise<Page<Row, Place>>,
  record: (looked: Looked) => void,
): AsyncGenerator<readonly Row[]> {
  let after: Place | null = null;
  do {
    const page: Page<Row, Place> = await find(after);
    record(page.looked);
    yield page.rows;
    after = page.next;
  } while (after !== null);
}

function sendTable(
  services: RejectedServices,
  res: Response,
  caller: SignedIn,
  search: RejectedSearch,
): Promise<void> {
  const zone = services.siteZone;
  const { clientKey, person, origin } = caller;
  const entry = { clientKey, person, origin, action: EXPORTED.action, outcome: 200 };
  const record = (looked: Looked): void => {
    services.record({ ...entry, entity: EXPORTED.entity, ...looked });
  };
  const file = `refused-${search.thing}.csv`;
  switch (search.thing) {
    case 'readings': {
      const size = { rows: PAGE, count: 0 };
      const pages = allPages<ReviewReading, ReviewPosition>(
        (after) => findReadings(services, search, after, size),
        record,
      );
      return sendCsv(res, file, readingColumns(zone), pages);
    }
    case 'submissions': {
      const pages = allPages<Refusal, string>(
        (after) => findSubmissions(services, search, after, PAGE),
        record,
      );
      return sendCsv(res, file, submissionColumns(zone), pages);
    }
    case 'rows': {
      const pages = allPages<ListedUnreadRow, UnreadPosition>(
        (after) => findUnread(services, search, after, PAGE),
        record,
      );
      return sendCsv(res, file, unreadColumns(zone), pages);
    }
  }
}

export function csvRoute(services: RejectedServices): Route {
  return {
    method: 'post',
    path: `${REJECTED_PATH}/csv`,
    by: 'session',
    scopes: ['review.read', 'export.read'],
    needsAll: true,
    summary: 'Take out what was refused as a table',
    body: FORM_BODY,
    parameters: SEARCH_PARAMETERS,
    audit: EXPORTED,
    async handler(req, res, caller) {
      const search = readSearchFields(formOf(req), services.siteZone);
      const [fault] = Object.entries(search.faults);
      if (fault !== undefined) {
        throw new HttpError({ status: 400, detail: `Nothing was sent: ${fault.join(' ')}.` });
      }
      const rows = await withinReach(countOf(services, search));
      if (rows > MAX_ROWS) {
        const detail = `This search finds more than ${MAX_ROWS} rows, more than one table takes out. Nothing was sent: narrow it, by time for instance, and take it out in parts.`;
        throw new HttpError({ status: 422, detail });
      }
      noteLook(res, {
        query: Object.entries(search.fields),
        detail: { rows, thing: search.thing },
      });
      await sendTable(services, res, caller, { ...search, cursor: undefined });
    },
  };
}
