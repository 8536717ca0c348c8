/** How much was rejected over time: by rule, by source, and what was refused whole. */
import type { ComponentChildren } from 'preact';
import { SearchTooBroad } from '../../../errors.js';
import {
  BY_A_PERSON,
  countRefusedBySource,
  countRejectedByRule,
  countRejectedBySource,
} from '../../../store/rejected-counts.js';
import type { Counts, Steps } from '../../../store/rejected-counts.js';
import { listSources } from '../../../store/sources.js';
import { hasScope } from '../../auth/scopes.js';
import type { Route, SignedIn } from '../../http/route.js';
import { stackedCounts } from '../../pages/charts/stacked-counts.js';
import { Notice } from '../../pages/parts/notice.js';
import { writeMoment } from '../../pages/parts/moment.js';
import { sendPage } from '../../pages/send-page.js';
import { writeSiteTime } from '../../pages/site-time.js';
import { noPatientIn, queryOf } from '../parts/query-of.js';
import { stepsBetween } from '../../pages/steps-between.js';
import { TOO_BROAD } from './list-page.js';
import {
  readSearchFields,
  REFUSED_STATUSES,
  SEARCH_PARAMETERS,
  toReadingSearch,
} from './search-fields.js';
import type { RejectedSearch } from './search-fields.js';
import { REJECTED_PATH, RejectedSides, SearchForm } from './search-form.js';
import type { RejectedServices } from './services.js';

const HOUR_MS = 60 * 60 * 1000;
const DAY_MS = 24 * HOUR_MS;
/** Without a time: the last seven days. */
const DEFAULT_MS = 7 * DAY_MS;
/** Up to so long by the hour. */
const HOURLY_MS = 2 * DAY_MS;
/** Nobody reads a chart of more days; it would be as wide as the wall. */
const MAX_MS = 92 * DAY_MS;

export const COUNTS_PATH = `${REJECTED_PATH}/counts`;

/** The time that is counted in: an end at the latest now, a beginning not too long before. */
function rangeOf(
  { fromMs, toMs }: RejectedSearch,
  nowMs: number,
): { fromMs: number; toMs: number } {
  const end = Math.min(toMs ?? nowMs, nowMs);
  return { fromMs: Math.max(fromMs ?? end - DEFAULT_MS, end - MAX_MS), toMs: end };
}

async function readCounts(
  { pool }: RejectedServices,
  search: RejectedSearch,
  range: { fromMs: number; toMs: number },
  steps: Steps,
): Promise<readonly [byRule: Counts, bySource: Counts, refused: Counts]> {
  const found = toReadingSearch({ ...search, ...range });
  return [
    await countRejectedByRule(pool, found, steps),
    await countRejectedBySource(pool, found, steps),
    await countRefusedBySource(pool, range, REFUSED_STATUSES, steps),
  ];
}

async function charts(
  services: RejectedServices,
  search: RejectedSearch,
): Promise<ComponentChildren> {
  const zone = services.siteZone;
  const range = rangeOf(search, services.clock());
  const step = range.toMs - range.fromMs <= HOURLY_MS ? 'hour' : 'day';
  const [byRule, bySource, refused] = await readCounts(services, search, range, { step, zone });
  const steps = stepsBetween(range, step, zone);
  const stepText = (ms: number): string =>
    writeSiteTime(ms, zone)
      .slice(5, step === 'hour' ? 13 : 10)
      .replace('T', ' ') + (step === 'hour' ? 'h' : '');
  const shared = { steps, stepText };
  const whatText = (what: string): string => (what === BY_A_PERSON ? 'by a person' : what);
  const things = 'rejected readings';
  return (
    <>
      <p>
        From {writeMoment(range.fromMs, zone)} until {writeMoment(range.toMs, zone)}, by the {step}.
        {search.fromMs !== null && range.fromMs > search.fromMs
          ? ' No more than 92 days are counted at once.'
          : ''}
      </p>
      {(byRule.isPartial || bySource.isPartial || refused.isPartial) && (
        <Notice kind="caution">
          There was more than is counted at once: only the newest 100,000 are in these figures.
          Choose a shorter time.
        </Notice>
      )}
      <h2>By rule</h2>
      {await stackedCounts({
        ...{ ...shared, id: 'by-rule', title: 'Rejected readings by rule', things, whatText },
        counts: byRule.counted,
      })}
      <p class="hint">A reading that two rules rejected counts for both.</p>
      <h2>By source</h2>
      {await stackedCounts({
        ...{ ...shared, id: 'by-source', title: 'Rejected readings by source', things },
        counts: bySource.counted,
      })}
      <h2>Submissions refused whole, by source</h2>
      {await stackedCounts({
        ...{ ...shared, id: 'refused', title: 'Submissions refused whole, by source' },
        things: 'refused submissions',
        counts: refused.counted,
      })}
      <p class="hint">All sources, whatever else is searched for above.</p>
    </>
  );
}

async function chartsOrTooBroad(
  services: RejectedServices,
  search: RejectedSearch,
): Promise<ComponentChildren | null> {
  try {
    return await charts(services, search);
  } catch (error) {
    if (error instanceof SearchTooBroad) return null;
    throw error;
  }
}

async function content(
  services: RejectedServices,
  caller: SignedIn,
  search: RejectedSearch,
): Promise<{ status: number; body: ComponentChildren }> {
  const sources = (await listSources(services.pool)).map(({ name }) => name);
  const isFaulty = Object.keys(search.faults).length > 0;
  const shown = isFaulty ? null : await chartsOrTooBroad(services, search);
  const body = (
    <>
      <RejectedSides
        {...{ search, here: 'counts' }}
        mayWrite={hasScope(caller.scopes, 'review.write')}
      />
      <SearchForm
        {...{ search, caller, sources, ruleIds: services.ruleIds, path: COUNTS_PATH }}
        zone={services.siteZone}
        asksPatient={false}
      />
      {isFaulty && <Notice kind="fault">Nothing was counted: some fields are at fault.</Notice>}
      {!isFaulty && shown === null && <Notice kind="fault">{TOO_BROAD}</Notice>}
      {shown}
    </>
  );
  return { status: isFaulty ? 400 : shown === null ? 422 : 200, body };
}

export function countsRoute(services: RejectedServices): Route {
  return {
    method: 'get',
    path: COUNTS_PATH,
    by: 'session',
    scopes: ['review.read'],
    summary: 'How much was rejected over time',
    parameters: SEARCH_PARAMETERS,
    audit: { action: 'review-summary' },
    async handler(req, res, caller) {
      noPatientIn(req);
      const search = readSearchFields(queryOf(req), services.siteZone);
      const { status, body } = await content(services, caller, { ...search, thing: 'readings' });
      const facts = { title: 'Rejected over time', current: REJECTED_PATH, caller, status };
      sendPage(res, { ...facts, wide: true }, body);
    },
  };
}
