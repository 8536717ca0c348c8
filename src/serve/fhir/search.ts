/** The steps that every search and every history goes through, whatever it is about. */
import type { Pool } from '../../store/pool.js';
import { readLastStamp } from '../../store/publication-clock.js';
import { readSearchMoment } from '../../store/search-observations.js';
import type { SearchMoment } from '../../store/search-observations.js';
import type { FhirAnswer } from './fhir-handler.js';
import { bundleText, outcomeEntry } from './bundle.js';
import { asOfOfPage, bindingOf, pageLinks, readPageStart } from './paging.js';
import type { PageStart } from './paging.js';
import { PAGE_PARAMETER } from './result-parameters.js';
import type { ParsedSearch } from './parse-search.js';
import { passedOver } from './passed-over.js';
import type { Pair } from './query-parameters.js';
import { badValue } from './refuse.js';
import type { OutcomeIssue } from './render-outcome.js';
import { renderInTurns } from './turns.js';

/** What a page of matches is made from. */
export interface PageSource<Row> {
  readonly type: 'searchset' | 'history';
  /** Absolute address of what is searched. */
  readonly path: string;
  readonly search: Omit<ParsedSearch<unknown>, 'conditions'>;
  readonly asOfMs: number;
  /** Whether a row can have this id. */
  readonly isId: (text: string) => boolean;
  readonly fetch: (after: PageStart | null, limit: number) => Promise<Row[]>;
  /** Absent: there is no total beyond what one page shows. */
  readonly count?: () => Promise<number>;
  readonly entryOf: (row: Row) => string;
  /** Where a row stands in the order of the search. */
  readonly placeOf: (row: Row) => Omit<PageStart, 'asOfMs'>;
  /** What comes along with the matches of a page. */
  readonly includeEntries?: (rows: readonly Row[]) => Promise<string[]>;
  /** Entries beside the matches, on the first page. */
  readonly extraEntries?: () => Promise<string[]>;
  /** For the audit trail: whom a row tells of, where a search finds people by what is known of them. */
  readonly patientOf?: (row: Row) => string;
}

/**
 * The stamp as of which a search is answered: that of its first page, which later pages carry along,
 * so that no write moves a row from one page to another.
 */
export async function asOfOf(pool: Pool, pairs: readonly Pair[]): Promise<number> {
  const page = pairs.find(([name]) => name === PAGE_PARAMETER);
  return page === undefined ? readLastStamp(pool) : asOfOfPage(page[1]);
}

/** The same for a search of Observations. */
export async function momentOf(pool: Pool, pairs: readonly Pair[]): Promise<SearchMoment> {
  const page = pairs.find(([name]) => name === PAGE_PARAMETER);
  const now = await readSearchMoment(pool);
  return page === undefined ? now : { ...now, asOfMs: asOfOfPage(page[1]) };
}

/** One page: fetches a row more than it shows, to know whether there is another page. */
export async function answerPage<Row>(source: PageSource<Row>): Promise<FhirAnswer> {
  const { type, path, search, asOfMs } = source;
  const { used, page, count } = search;
  if (search.countOnly && page !== null) throw badValue(PAGE_PARAMETER, 'does not go with a count');
  const after = page === null ? null : readPageStart(page, bindingOf(path, used), source.isId);
  const isFirst = page === null;
  const [rows, extra] = await Promise.all([
    search.countOnly ? [] : source.fetch(after, count + 1),
    isFirst ? (source.extraEntries?.() ?? []) : [],
  ]);
  const shown = rows.slice(0, count);
  const last = rows.length > count ? shown.at(-1) : undefined;
  const next = last === undefined ? null : { ...source.placeOf(last), asOfMs };
  const isWhole = isFirst && next === null && !search.countOnly;
  const included = (await source.includeEntries?.(shown)) ?? [];
  const wantsTotal = search.total || search.countOnly;
  const total = isWhole ? shown.length : wantsTotal ? await source.count?.() : undefined;
  const text = bundleText({
    type,
    ...(total === undefined ? {} : { total }),
    links: pageLinks(path, used, page, next),
    entries: [...(await renderInTurns(shown, source.entryOf)), ...included, ...extra],
  });
  const { patientOf } = source;
  const looked = patientOf === undefined ? {} : { patientIds: shown.map(patientOf) };
  return { status: 200, text, looked };
}

/** The outcome entry about these issues, if there are any. */
export function issueEntries([first, ...rest]: readonly OutcomeIssue[]): string[] {
  return first === undefined ? [] : [outcomeEntry([first, ...rest])];
}

/** The outcome entry about what was passed over, if anything was. */
export function ignoredEntries({ ignored }: Pick<ParsedSearch<unknown>, 'ignored'>): string[] {
  return issueEntries(ignored.map(passedOver));
}

/**
 * Whether what never changes is listed newest first, as it is without `_sort`.
 *
 * @param names what `_sort` may name, all meaning the one time of a row
 */
export function readDirection(sort: string | null, names: readonly string[]): boolean {
  if (sort === null) return true;
  const descending = sort.startsWith('-');
  if (names.includes(descending ? sort.slice(1) : sort)) return descending;
  throw badValue('_sort', `takes one of ${names.join(', ')}, also with a minus before it`);
}
