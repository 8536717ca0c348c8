/** The page of what was refused: what is searched for, what was found, and what can be done with it. */
import type { Response } from 'express';
import type { ComponentChildren } from 'preact';
import { SearchTooBroad } from '../../../errors.js';
import { listSources } from '../../../store/sources.js';
import { hasScope } from '../../auth/scopes.js';
import { noteLook } from '../../http/audit-requests.js';
import type { Looked } from '../../http/locals.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField } from '../../pages/parts/form.js';
import { Notice } from '../../pages/parts/notice.js';
import { sendPage } from '../../pages/send-page.js';
import {
  findReadings,
  findSubmissions,
  findUnread,
  MOST_COUNTED,
  PAGE_ROWS,
  readingPlace,
  rowPlace,
  submissionPlace,
  writePlace,
} from './find-page.js';
import { isFromMessage, ReadingsList } from './readings-list.js';
import { isWorthAnother, RowsList } from './rows-list.js';
import { addressOf } from './search-fields.js';
import type { RejectedSearch } from './search-fields.js';
import { HiddenSearch, REJECTED_PATH, RejectedSides, SearchForm } from './search-form.js';
import type { RejectedServices } from './services.js';
import { SubmissionsList } from './submissions-list.js';

/** A table of what was found, and where it goes on. */
interface Found {
  readonly table: ComponentChildren;
  readonly next: string | null;
  readonly isEmpty: boolean;
  /** Some rows can be marked, to be read again. */
  readonly hasMarks: boolean;
  readonly looked: Looked;
}

export const TOO_BROAD =
  'This search looks at too much to be answered in time. Narrow it: by time, by source or by patient.';

export async function sendList(
  services: RejectedServices,
  res: Response,
  caller: SignedIn,
  search: RejectedSearch,
): Promise<void> {
  const isFaulty = Object.keys(search.faults).length > 0;
  const found = isFaulty ? null : await findOrTooBroad(services, caller, search);
  if (found !== null) noteLook(res, found.looked);
  const sources = (await listSources(services.pool)).map(({ name }) => name);
  const status = isFaulty ? 400 : found === null ? 422 : 200;
  const facts = { title: 'Rejected', current: REJECTED_PATH, caller, wide: true, status };
  sendPage(
    res,
    facts,
    <>
      <RejectedSides
        search={search}
        here={search.thing}
        mayWrite={hasScope(caller.scopes, 'review.write')}
      />
      <SearchForm
        {...{ search, caller, sources, ruleIds: services.ruleIds, path: REJECTED_PATH }}
        zone={services.siteZone}
        asksPatient={search.thing === 'readings'}
      />
      {isFaulty && <Notice kind="fault">Nothing was searched: some fields are at fault.</Notice>}
      {!isFaulty && found === null && <Notice kind="fault">{TOO_BROAD}</Notice>}
      {found !== null && <Results {...{ search, caller, found }} />}
    </>,
  );
}

async function findOrTooBroad(
  services: RejectedServices,
  caller: SignedIn,
  search: RejectedSearch,
): Promise<Found | null> {
  try {
    return await find(services, caller, search);
  } catch (error) {
    if (error instanceof SearchTooBroad) return null;
    throw error;
  }
}

async function find(
  services: RejectedServices,
  caller: SignedIn,
  search: RejectedSearch,
): Promise<Found> {
  const zone = services.siteZone;
  const mayReplay = hasScope(caller.scopes, 'review.write');
  switch (search.thing) {
    case 'readings': {
      const after = readingPlace(search);
      const size = { rows: PAGE_ROWS, count: after === null ? MOST_COUNTED + 1 : 0 };
      const { rows, found, next, looked } = await findReadings(services, search, after, size);
      const hasMarks = mayReplay && rows.some(({ version }) => isFromMessage(version));
      return {
        table: (
          <ReadingsList
            {...{ readings: rows, zone, hasMarks }}
            caption={captionOf('rejected readings', rows.length, after === null ? found : null)}
          />
        ),
        next: next === null ? null : writePlace(search, [next.rank, next.atMs, next.id]),
        isEmpty: rows.length === 0,
        looked,
        hasMarks,
      };
    }
    case 'submissions': {
      const after = submissionPlace(search);
      const { rows, next, looked } = await findSubmissions(services, search, after, PAGE_ROWS);
      const caption = captionOf('refused submissions', rows.length, null);
      return {
        table: <SubmissionsList {...{ refusals: rows, zone, caption }} />,
        next: next === null ? null : writePlace(search, [next]),
        isEmpty: rows.length === 0,
        looked,
        hasMarks: false,
      };
    }
    case 'rows': {
      const after = rowPlace(search);
      const { rows, next, looked } = await findUnread(services, search, after, PAGE_ROWS);
      const caption = captionOf('rows that brought no reading', rows.length, null);
      const hasMarks = mayReplay && rows.some(isWorthAnother);
      return {
        table: <RowsList {...{ rows, zone, hasMarks, caption }} />,
        next: next === null ? null : writePlace(search, [next.submissionId, next.place]),
        isEmpty: rows.length === 0,
        looked,
        hasMarks,
      };
    }
  }
}

/** @param found how many there are in all, counted to a limit; null: not counted here */
function captionOf(things: string, shown: number, found: number | null): string {
  if (found === null) return `${shown} ${things}, the newest first`;
  const all = found > MOST_COUNTED ? `more than ${MOST_COUNTED}` : String(found);
  return found <= shown
    ? `${all} ${things}, the newest first`
    : `${shown} of ${all} ${things}, the newest first`;
}

function Results({
  search,
  caller,
  found,
}: {
  search: RejectedSearch;
  caller: SignedIn;
  found: Found;
}) {
  return (
    <>
      {found.table}
      <Pager {...{ search, caller, next: found.next }} />
      {!found.isEmpty && (
        <div class="actions">
          {found.hasMarks && (
            <form id="again" method="post" action={`${REJECTED_PATH}/again/look`}>
              <CsrfField caller={caller} />
              <button type="submit">Read the marked messages again …</button>
              <p class="hint">
                By the mapping that is in force now. You are shown what would change first.
              </p>
            </form>
          )}
          {hasScope(caller.scopes, 'export.read') && <CsvForm {...{ search, caller }} />}
        </div>
      )}
    </>
  );
}

/** A link; where a patient is named, a form, so that nobody comes into an address. */
function Pager({
  search,
  caller,
  next,
}: {
  search: RejectedSearch;
  caller: SignedIn;
  next: string | null;
}) {
  const isFirst = search.cursor === undefined;
  if (next === null && isFirst) return null;
  const namesPatient = search.fields.patient !== undefined;
  return (
    <nav class="pager" aria-label="Pages">
      {!isFirst &&
        (namesPatient ? (
          <PageButton {...{ search, caller, cursor: null, label: 'The newest' }} />
        ) : (
          <a href={addressOf(REJECTED_PATH, search)}>The newest</a>
        ))}{' '}
      {next !== null &&
        (namesPatient ? (
          <PageButton {...{ search, caller, cursor: next, label: 'Older' }} />
        ) : (
          <a href={addressOf(REJECTED_PATH, search, { cursor: next })} rel="next">
            Older
          </a>
        ))}
    </nav>
  );
}

function PageButton({
  search,
  caller,
  cursor,
  label,
}: {
  search: RejectedSearch;
  caller: SignedIn;
  cursor: string | null;
  label: string;
}) {
  return (
    <form method="post" action={`${REJECTED_PATH}/search`}>
      <CsrfField caller={caller} />
      <HiddenSearch search={search} />
      {cursor !== null && <input type="hidden" name="cursor" value={cursor} />}
      <button type="submit">{label}</button>
    </form>
  );
}

function CsvForm({ search, caller }: { search: RejectedSearch; caller: SignedIn }) {
  return (
    <form method="post" action={`${REJECTED_PATH}/csv`}>
      <CsrfField caller={caller} />
      <HiddenSearch search={search} />
      <button type="submit">All of this search as CSV</button>
      <p class="hint">
        UTF-8 with a byte order mark, so that spreadsheet programs read every letter. What could be
        taken for a formula begins with an apostrophe. Who takes what out is written down.
      </p>
    </form>
  );
}
