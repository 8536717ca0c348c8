/** One source: its page, and taking it out of use and back. */
import type { Request, Response } from 'express';
import type { ComponentChildren } from 'preact';
import { SearchTooBroad } from '../../../errors.js';
import { readFates } from '../../../store/arrivals.js';
import { listSubmissions } from '../../../store/review-submissions.js';
import { readSourceHours } from '../../../store/source-health.js';
import type { SourceHour } from '../../../store/source-health.js';
import { listMappings } from '../../../store/source-mappings.js';
import type { MappingRecord } from '../../../store/source-mappings.js';
import { setSourceDisabled } from '../../../store/sources.js';
import type { SourceRecord } from '../../../store/sources.js';
import { listUnmappedCodes } from '../../../store/unread-rows.js';
import { NO_MAPPING } from '../../../vitals/source-profile.js';
import { VERDICTS } from '../../../vitals/words.js';
import { idIn, noSuch } from '../../admin/answers.js';
import { mappingNumberInForce } from '../../admin/mapping-routes.js';
import { settledSource } from '../../admin/source-routes.js';
import { hasScope } from '../../auth/scopes.js';
import { noteLook } from '../../http/audit-requests.js';
import { FORM_BODY } from '../../http/read-form.js';
import type { Route, SignedIn } from '../../http/route.js';
import { stackedCounts } from '../../pages/charts/stacked-counts.js';
import { Notice } from '../../pages/parts/notice.js';
import { sendPage } from '../../pages/send-page.js';
import { stepsBetween } from '../../pages/steps-between.js';
import { writeSiteTime } from '../../pages/site-time.js';
import { actorOf } from '../../rules/services.js';
import { ArrivalsTable } from './arrivals-table.js';
import type { Arrival } from './arrivals-table.js';
import { lastHeardMs, readStandings } from './list-routes.js';
import type { SourceStanding } from './list-routes.js';
import { MappingList, UnmappedCodes } from './mapping-list.js';
import type { SourcePagesServices } from './services.js';
import { SourceFacts, Switch } from './source-page.js';
import { SOURCES_PATH, SourceSides } from './source-sides.js';

const DAY_MS = 24 * 60 * 60 * 1000;
const WEEK_MS = 7 * DAY_MS;
const SHOWN_ARRIVALS = 25;

/** The newest of a week, looked for from when it was last heard on; null: not found in time. */
async function findArrivals(
  { pool }: SourcePagesServices,
  source: SourceRecord,
  nowMs: number,
): Promise<Arrival[] | null> {
  try {
    const search = { source: source.name, receivedFromMs: nowMs - WEEK_MS, receivedToMs: null };
    const found = await listSubmissions(pool, search, null, SHOWN_ARRIVALS);
    const fates = await readFates(
      pool,
      found.map(({ submissionId }) => submissionId),
    );
    return found.map((facts) => ({ facts, fate: fates.get(facts.submissionId) }));
  } catch (error) {
    if (error instanceof SearchTooBroad) return null;
    throw error;
  }
}

function hourly(
  { siteZone: zone }: SourcePagesServices,
  hours: readonly SourceHour[],
  nowMs: number,
): Promise<ComponentChildren> {
  const range = { fromMs: nowMs - DAY_MS, toMs: nowMs };
  const steps = stepsBetween(range, 'hour', zone);
  const [first = 0] = steps;
  return stackedCounts({
    id: 'by-hour',
    title: 'Readings of the last 24 hours, by verdict',
    things: 'readings',
    steps,
    stepText: (ms) => `${writeSiteTime(ms, zone).slice(11, 13)}h`,
    counts: hours
      .filter(({ hourMs }) => hourMs >= first)
      .flatMap(({ hourMs, counts }) =>
        VERDICTS.filter((verdict) => counts[verdict] > 0).map((verdict) => ({
          fromMs: hourMs,
          what: verdict,
          count: counts[verdict],
        })),
      ),
  });
}

function Mappings({
  mappings,
  sourceId,
  caller,
  zone,
}: {
  mappings: readonly MappingRecord[];
  sourceId: string;
  caller: SignedIn;
  zone: string;
}) {
  return (
    <>
      <h2 id="mappings">Mappings</h2>
      <p>
        <a href={`${SOURCES_PATH}/${sourceId}/mappings/new`}>Propose a mapping</a>
        {hasScope(caller.scopes, 'review.write') && (
          <>
            {' · '}
            <a href="/desk/rejected/again">Read messages again by the mapping in force</a>
          </>
        )}
      </p>
      <MappingList
        {...{ mappings, inForce: mappingNumberInForce(mappings), sourceId, caller, zone }}
      />
    </>
  );
}

async function content(
  services: SourcePagesServices,
  caller: SignedIn,
  standing: SourceStanding,
  arrivals: readonly Arrival[] | null,
): Promise<ComponentChildren> {
  const { pool, siteZone: zone } = services;
  const { source } = standing;
  const { sourceId, sourceKey } = source;
  const nowMs = services.clock();
  const hours = await readSourceHours(pool, sourceKey);
  const mappings = (await listMappings(pool, sourceId)) ?? [];
  const { codes, isPartial } = await listUnmappedCodes(pool);
  const mayRead = hasScope(caller.scopes, 'review.read');
  const number = mappingNumberInForce(mappings);
  const inForce = mappings.find(({ version }) => version === number)?.mapping;
  return (
    <>
      <SourceSides here="sources" />
      <SourceFacts {...{ standing, hours, nowMs, zone }} />
      <Switch {...{ source, caller }} />
      <p>
        <a href={`${SOURCES_PATH}/${sourceId}/try`}>Try a message</a>
      </p>
      {await hourly(services, hours, nowMs)}
      <h2>What arrived lately</h2>
      {arrivals === null ? (
        <Notice kind="caution">
          It sends too seldom to be found among all that arrived in this week.
        </Notice>
      ) : (
        <ArrivalsTable
          {...{ arrivals, zone, mayRead }}
          caption="The newest of the last seven days"
        />
      )}
      {mayRead && (
        <p>
          <a href={`/desk/rejected?${new URLSearchParams({ source: source.name }).toString()}`}>
            What was rejected of it
          </a>
        </p>
      )}
      <h2 id="codes">Codes without a mapping</h2>
      {isPartial && <Notice kind="note">Counted are the newest 100,000 unread rows only.</Notice>}
      <UnmappedCodes
        {...{ codes: codes.filter((one) => one.sourceKey === sourceKey), sourceId, zone, mayRead }}
        inForce={inForce ?? NO_MAPPING}
      />
      <Mappings {...{ mappings, sourceId, caller, zone }} />
    </>
  );
}

function readRoute(services: SourcePagesServices): Route {
  return {
    method: 'get',
    path: `${SOURCES_PATH}/:id`,
    by: 'session',
    scopes: ['admin'],
    summary: 'One source, and how it does',
    audit: { entity: 'sources/:id' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const id = idIn(req, 'source');
      const standing = (await readStandings(services)).find(({ source }) => source.sourceId === id);
      if (standing === undefined) throw noSuch('source');
      const nowMs = services.clock();
      const heardMs = lastHeardMs(standing);
      const isSilent = heardMs === null && standing.refused === 0;
      const arrivals = isSilent ? [] : await findArrivals(services, standing.source, nowMs);
      const submissions = (arrivals ?? []).map(({ facts }) => facts.submissionId);
      noteLook(res, { detail: { submissions } });
      const facts = { title: standing.source.name, current: SOURCES_PATH, caller, wide: true };
      sendPage(res, facts, await content(services, caller, standing, arrivals));
    },
  };
}

function switchRoute(services: SourcePagesServices, verb: 'disable' | 'enable'): Route {
  return {
    method: 'post',
    path: `${SOURCES_PATH}/:id/${verb}`,
    by: 'session',
    scopes: ['admin'],
    summary: verb === 'disable' ? 'Disable a source' : 'Enable a source again',
    body: FORM_BODY,
    audit: { action: `source-${verb}`, entity: 'sources/:id', by: 'act' },
    async handler(req: Request, res: Response, caller: SignedIn) {
      const id = idIn(req, 'source');
      const atMs = verb === 'disable' ? services.clock() : null;
      const by = await actorOf(services.names, caller);
      settledSource(await setSourceDisabled(services.pool, by, id, atMs));
      services.directory.forget();
      res.status(303).setHeader('Location', `${SOURCES_PATH}/${id}`).end();
    },
  };
}

export function sourcePageRoutes(services: SourcePagesServices): Route[] {
  return [readRoute(services), switchRoute(services, 'disable'), switchRoute(services, 'enable')];
}
