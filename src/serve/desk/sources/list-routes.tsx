/** How all sources and all devices do, each as a table. */
import type { Request, Response } from 'express';
import { countRefusedSince } from '../../../store/arrivals.js';
import { listDeviceHealth } from '../../../store/device-health.js';
import type { DeviceHealth } from '../../../store/device-health.js';
import { readSourceClocks } from '../../../store/source-clocks.js';
import type { SourceClock } from '../../../store/source-clocks.js';
import { readSourceHealth } from '../../../store/source-health.js';
import type { SourceHealth } from '../../../store/source-health.js';
import { listSources } from '../../../store/sources.js';
import type { SourceRecord } from '../../../store/sources.js';
import { listUnmappedCodes } from '../../../store/unread-rows.js';
import type { Route, SignedIn } from '../../http/route.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { sendPage } from '../../pages/send-page.js';
import { agoText, clockText, readingsOf, shareText } from './health-text.js';
import type { SourcePagesServices } from './services.js';
import { DEVICES_PATH, SOURCES_PATH, SourceSides } from './source-sides.js';

const DAY_MS = 24 * 60 * 60 * 1000;
const MOST_DEVICES = 500;
const NOTHING = { accepted: 0, noted: 0, held: 0, rejected: 0 };

/** A source and how it does. */
export interface SourceStanding {
  readonly source: SourceRecord;
  readonly health: SourceHealth | undefined;
  readonly clock: SourceClock | undefined;
  /** Submissions of the last day that were refused. */
  readonly refused: number;
  /** Codes that no mapping knows. */
  readonly unmapped: number;
}

/** When something of it was last heard, in ms since the epoch; null: not within a week. */
export function lastHeardMs({ health, clock }: SourceStanding): number | null {
  const atMs = Math.max(health?.lastHeardMs ?? 0, clock?.seenAtMs ?? 0);
  return atMs === 0 ? null : atMs;
}

export async function readStandings({
  pool,
  clock,
}: SourcePagesServices): Promise<SourceStanding[]> {
  const nowMs = clock();
  const sources = await listSources(pool);
  const health = await readSourceHealth(pool, nowMs);
  const clocks = await readSourceClocks(pool);
  const refused = await countRefusedSince(pool, nowMs - DAY_MS);
  const { codes } = await listUnmappedCodes(pool);
  return sources.map((source) => ({
    source,
    health: health.get(source.sourceKey),
    clock: clocks.get(source.sourceKey),
    refused: refused.get(source.sourceKey) ?? 0,
    unmapped: codes.filter(({ sourceKey }) => sourceKey === source.sourceKey).length,
  }));
}

export function InUse({ disabledAtMs }: Pick<SourceRecord, 'disabledAtMs'>) {
  return disabledAtMs === null ? (
    <Mark tone="good">in use</Mark>
  ) : (
    <Mark tone="urgent">disabled</Mark>
  );
}

function Heard({ atMs, nowMs, zone }: { atMs: number | null; nowMs: number; zone: string }) {
  if (atMs === null) return <>not within a week</>;
  return (
    <>
      {agoText(atMs, nowMs)}
      <br />
      <Moment {...{ atMs, zone }} />
    </>
  );
}

function SourceTable({
  standings,
  nowMs,
  zone,
}: {
  standings: readonly SourceStanding[];
  nowMs: number;
  zone: string;
}) {
  const day = ({ health }: SourceStanding) => health?.lastDay ?? NOTHING;
  return (
    <Table
      caption="Sources, and their readings of the last 24 hours"
      columns={[
        {
          head: 'Source',
          rowHead: true,
          cell: ({ source }: SourceStanding) => (
            <a href={`${SOURCES_PATH}/${source.sourceId}`}>{source.name}</a>
          ),
        },
        { head: 'Stands as', cell: ({ source }) => <InUse {...source} /> },
        {
          head: 'Last heard',
          cell: (standing) => <Heard {...{ atMs: lastHeardMs(standing), nowMs, zone }} />,
        },
        { head: 'Readings', numeric: true, cell: (standing) => readingsOf(day(standing)) },
        {
          head: 'Rejected',
          numeric: true,
          cell: (standing) => shareText(day(standing).rejected, readingsOf(day(standing))),
        },
        {
          head: 'Held',
          numeric: true,
          cell: (standing) => shareText(day(standing).held, readingsOf(day(standing))),
        },
        { head: 'Refused whole', numeric: true, cell: ({ refused }) => refused },
        {
          head: 'Codes without mapping',
          numeric: true,
          cell: ({ source, unmapped }) =>
            unmapped === 0 ? (
              0
            ) : (
              <a href={`${SOURCES_PATH}/${source.sourceId}#codes`}>{unmapped}</a>
            ),
        },
        { head: 'Clock', cell: ({ clock }) => clockText(clock?.skewMs ?? null) ?? '–' },
      ]}
      rows={standings}
      keyOf={({ source }) => source.sourceId}
      empty="No source is registered."
    />
  );
}

export function sourceListRoute(services: SourcePagesServices): Route {
  return {
    method: 'get',
    path: SOURCES_PATH,
    by: 'session',
    scopes: ['admin'],
    summary: 'How the sources do',
    async handler(_req: Request, res: Response, caller: SignedIn) {
      const standings = await readStandings(services);
      const { siteZone: zone, clock } = services;
      sendPage(
        res,
        { title: 'Sources', current: SOURCES_PATH, caller, wide: true },
        <>
          <SourceSides here="sources" />
          <SourceTable {...{ standings, nowMs: clock(), zone }} />
          <p class="hint">
            The clock is the time of sending minus the time of receipt, the greatest of the last 20
            messages. Counts may lag by some seconds.
          </p>
        </>,
      );
    },
  };
}

function DeviceName({ identifier, registered }: DeviceHealth) {
  const display = registered?.display ?? null;
  return (
    <>
      {identifier.value}
      {display !== null && (
        <>
          <br />
          {display}
        </>
      )}
      <br />
      <small>{identifier.system}</small>
    </>
  );
}

function DeviceTable({
  devices,
  nowMs,
  zone,
}: {
  devices: readonly DeviceHealth[];
  nowMs: number;
  zone: string;
}) {
  return (
    <Table
      caption={`${devices.length} devices that are registered or were heard within a week, those with most rejected readings first`}
      columns={[
        {
          head: 'Device',
          rowHead: true,
          cell: (device: DeviceHealth) => <DeviceName {...device} />,
        },
        {
          head: 'Stands as',
          cell: ({ registered }) => {
            if (registered === null) return <Mark tone="caution">not registered</Mark>;
            return registered.disabled ? (
              <Mark tone="urgent">disabled</Mark>
            ) : (
              <Mark tone="good">in use</Mark>
            );
          },
        },
        { head: 'Type', cell: ({ registered }) => registered?.type ?? '–' },
        { head: 'Place', cell: ({ registered }) => registered?.location ?? '–' },
        {
          head: 'Last heard',
          cell: (device) => <Heard {...{ atMs: device.lastHeardMs, nowMs, zone }} />,
        },
        { head: 'Readings, 2 h', numeric: true, cell: ({ lastTwoHours }) => lastTwoHours },
        { head: '24 h', numeric: true, cell: ({ lastDay }) => readingsOf(lastDay) },
        {
          head: 'Rejected, 24 h',
          numeric: true,
          cell: ({ lastDay }) => shareText(lastDay.rejected, readingsOf(lastDay)),
        },
        {
          head: 'Held, 24 h',
          numeric: true,
          cell: ({ lastDay }) => shareText(lastDay.held, readingsOf(lastDay)),
        },
        { head: 'Clock', cell: ({ clock }) => clockText(clock?.offsetMs ?? null) ?? '–' },
      ]}
      rows={devices}
      keyOf={({ deviceId }) => deviceId}
      empty="No device was heard within a week, and none is registered."
    />
  );
}

export function deviceListRoute({ pool, clock, siteZone: zone }: SourcePagesServices): Route {
  return {
    method: 'get',
    path: DEVICES_PATH,
    by: 'session',
    scopes: ['admin'],
    summary: 'How the devices do',
    async handler(_req: Request, res: Response, caller: SignedIn) {
      const nowMs = clock();
      const found = await listDeviceHealth(pool, nowMs, MOST_DEVICES + 1);
      sendPage(
        res,
        { title: 'Devices', current: SOURCES_PATH, caller, wide: true },
        <>
          <SourceSides here="devices" />
          <DeviceTable {...{ devices: found.slice(0, MOST_DEVICES), nowMs, zone }} />
          {found.length > MOST_DEVICES && (
            <p>There are more devices; these are the {MOST_DEVICES} that need a look first.</p>
          )}
          <p class="hint">
            The clock is what the device shows minus the true time, as a message last told both.
          </p>
        </>,
      );
    },
  };
}
