/** One source: how it is registered, how it does, what it sent lately, and how its codes are read. */
import type { SourceHour } from '../../../store/source-health.js';
import type { SourceRecord } from '../../../store/sources.js';
import type { SignedIn } from '../../http/route.js';
import { CsrfField } from '../../pages/parts/form.js';
import { Moment } from '../../pages/parts/moment.js';
import { agoText, clockText, readingsOf, shareText } from './health-text.js';
import { InUse, lastHeardMs } from './list-routes.js';
import type { SourceStanding } from './list-routes.js';
import { SOURCES_PATH } from './source-sides.js';

const HOUR_MS = 60 * 60 * 1000;

function peerText(source: SourceRecord): string {
  const { application, facility, certificateSha256 } = source;
  if (source.builtIn && !source.attended)
    return 'HL7 v2 messages under names that nobody registered';
  const parts = [
    ...(application === null ? [] : [`MSH-3 ${application}`]),
    ...(facility === null ? [] : [`MSH-4 ${facility}`]),
    ...(certificateSha256 === null ? [] : [`certificate ${certificateSha256}`]),
  ];
  return parts.length === 0 ? 'no HL7 v2 messages' : parts.join(', ');
}

/** Readings of this hour and the one before, a minute: enough to see whether it still speaks. */
function rateText(hours: readonly SourceHour[], nowMs: number): string {
  const recent = hours.filter(({ hourMs }) => hourMs > nowMs - 2 * HOUR_MS);
  const readings = recent.reduce((sum, { counts }) => sum + readingsOf(counts), 0);
  const begin = Math.floor(nowMs / HOUR_MS) * HOUR_MS - HOUR_MS;
  const minutes = Math.max(1, (nowMs - begin) / 60_000);
  return `${(readings / minutes).toFixed(1)} readings a minute (${readings} in ${Math.round(minutes)} min)`;
}

export function SourceFacts(facts: {
  standing: SourceStanding;
  hours: readonly SourceHour[];
  nowMs: number;
  zone: string;
}) {
  const { standing, hours, nowMs, zone } = facts;
  const { source, health, clock, refused } = standing;
  const heardMs = lastHeardMs(standing);
  const day = health?.lastDay ?? { accepted: 0, noted: 0, held: 0, rejected: 0 };
  const authorities = Object.entries(source.authorities);
  return (
    <dl class="facts">
      <dt>Stands as</dt>
      <dd>
        <InUse {...source} />
      </dd>
      <dt>Last heard</dt>
      <dd>
        {heardMs === null ? (
          'not within a week'
        ) : (
          <>
            {agoText(heardMs, nowMs)}, <Moment atMs={heardMs} zone={zone} seconds />
          </>
        )}
      </dd>
      <dt>Rate</dt>
      <dd>{rateText(hours, nowMs)}</dd>
      <dt>Rejected in 24 h</dt>
      <dd>{shareText(day.rejected, readingsOf(day))}</dd>
      <dt>Held in 24 h</dt>
      <dd>{shareText(day.held, readingsOf(day))}</dd>
      <dt>Refused whole in 24 h</dt>
      <dd>{refused}</dd>
      <dt>Clock</dt>
      <dd>{clockText(clock?.skewMs ?? null) ?? 'no message told a time'}</dd>
      <dt>Known by</dt>
      <dd>{peerText(source)}</dd>
      <dt>Attended</dt>
      <dd>{source.attended ? 'a person stands by each reading' : 'nobody attends it'}</dd>
      <dt>Second identifier</dt>
      <dd>{source.secondIdentifierRequired ? 'asked for' : 'not asked for'}</dd>
      <dt>Zone</dt>
      <dd>{source.zone ?? `that of the site, ${zone}`}</dd>
      {(source.defaultAuthority !== null || authorities.length > 0) && (
        <>
          <dt>Patient numbering</dt>
          <dd>
            {[
              ...(source.defaultAuthority === null ? [] : [source.defaultAuthority]),
              ...authorities.map(([name, system]) => `${name}: ${system}`),
            ].join(', ')}
          </dd>
        </>
      )}
    </dl>
  );
}

export function Switch({ source, caller }: { source: SourceRecord; caller: SignedIn }) {
  const isOff = source.disabledAtMs !== null;
  return (
    <details>
      <summary>{isOff ? 'Enable this source' : 'Disable this source'}</summary>
      <form
        method="post"
        action={`${SOURCES_PATH}/${source.sourceId}/${isOff ? 'enable' : 'disable'}`}
      >
        <CsrfField caller={caller} />
        <p>
          {isOff
            ? 'Its clients get access again, and its messages are taken.'
            : 'Its clients lose access, and its messages are not taken: their senders must keep them. Every process knows it within two seconds.'}
        </p>
        <p>
          <button type="submit">{isOff ? 'Enable it' : 'Disable it'}</button>
        </p>
      </form>
    </details>
  );
}
