import { hasScope } from '../../auth/scopes.js';
import type { SignedIn } from '../../http/route.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { Notice } from '../../pages/parts/notice.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { interpretationText, readingValue } from '../../pages/parts/words.js';
import { DecideForm } from '../decide/decide-form.js';
import { personName } from '../held/row-facts.js';
import { picture } from '../submissions/inert-text.js';
import { measuredBy } from './draw-history.js';
import { FindingsView } from './findings-view.js';
import { HistoryView } from './history-view.js';
import { SetView, VersionsView } from './past-view.js';
import type { ReadingPageFacts } from './read-page.js';
import { SentView } from './sent-view.js';

interface PageFacts {
  readonly facts: ReadingPageFacts;
  readonly chart: string | null;
  readonly zone: string;
  readonly caller: SignedIn;
  readonly given: URLSearchParams | null;
}

export function readingTitle({ reading: { version } }: ReadingPageFacts): string {
  return `${signText(version.vital)} ${readingValue(version)}`;
}

/** Where it stands, in words. */
function Standing({ facts, zone }: Pick<PageFacts, 'facts' | 'zone'>) {
  const { version, critical } = facts.reading;
  const { verdict, hold, status, holdUntilMs } = version;
  return (
    <p class="marks">
      {critical && <Mark tone="urgent">Critical</Mark>} <Mark>{verdict}</Mark>{' '}
      {status === null ? <Mark>Not out</Mark> : <Mark>{`Out as ${status}`}</Mark>}{' '}
      {hold !== null && status !== null && <Mark tone="caution">Unconfirmed</Mark>}{' '}
      {hold === null && status === 'preliminary' && <Mark tone="caution">Unreviewed</Mark>}{' '}
      {hold !== null && holdUntilMs !== null && (
        <>
          goes out by itself <Moment atMs={holdUntilMs} zone={zone} />
        </>
      )}
      {hold === 'identity' && status === null && 'stays here until its patient is settled'}
    </p>
  );
}

function Facts({ facts, zone }: Pick<PageFacts, 'facts' | 'zone'>) {
  const { version, registered } = facts.reading;
  const { patient, takenAt, location, source, recorder, recorderAsserted, device } = version;
  const name = personName(registered?.name);
  const { birthDate = null, gender = null } = registered ?? {};
  const rows: readonly (readonly [string, preact.ComponentChildren])[] = [
    [
      'Patient',
      <>
        {registered === null ? <Mark tone="caution">Not registered</Mark> : name}{' '}
        {patient.identifier.value}
        {birthDate !== null && `, born ${birthDate}`}
        {gender !== null && `, ${gender}`}
      </>,
    ],
    ['Taken', <Moment atMs={takenAt.epochMs} zone={zone} seconds />],
    ['Measured by', measuredBy(version)],
    ['Is', interpretationText(version) || 'not told'],
    ['Where', location ?? '–'],
    ['From', source],
    [
      'Recorded by',
      recorder === null
        ? '–'
        : `${recorder.value}${recorderAsserted ? ', as the sender says' : ''}`,
    ],
    ['Device', device?.value ?? '–'],
    ...(version.note === null ? [] : ([['Note', picture(version.note)]] as const)),
  ];
  return (
    <dl class="told">
      {rows.map(([term, said]) => (
        <div key={term}>
          <dt>{term}</dt>
          <dd>{said}</dd>
        </div>
      ))}
    </dl>
  );
}

function Decide({ facts, caller, given }: Pick<PageFacts, 'facts' | 'caller' | 'given'>) {
  const { actions, reading } = facts;
  if (!hasScope(caller.scopes, 'review.write')) return <p>Your role lets you see, not decide.</p>;
  if (actions.length === 0) return <p>Nothing can be decided about it any more.</p>;
  return <DecideForm version={reading.version} {...{ actions, caller, given }} />;
}

export function ReadingPage({ facts, chart, zone, caller, given }: PageFacts) {
  const { reading, versions, decisions, siblings, history } = facts;
  const { version } = reading;
  return (
    <>
      <Standing facts={facts} zone={zone} />
      {reading.replaces !== null && (
        <Notice kind="note">
          It stands in the place of <a href={`/desk/readings/${reading.replaces}`}>a reading</a>{' '}
          that was withdrawn because it was under the wrong patient.
        </Notice>
      )}
      <div class="columns">
        <section aria-labelledby="is">
          <h2 id="is">What it is</h2>
          <Facts facts={facts} zone={zone} />
        </section>
        <section aria-labelledby="why">
          <h2 id="why">What the rules said</h2>
          <FindingsView findings={version.findings} />
        </section>
      </div>
      <section aria-labelledby="decision">
        <h2 id="decision">Your decision</h2>
        <Decide {...{ facts, caller, given }} />
      </section>
      <section aria-labelledby="others">
        <h2 id="others">This patient’s {wordText(version.vital)} about that time</h2>
        <HistoryView reading={version} history={history} chart={chart} zone={zone} />
      </section>
      <section aria-labelledby="set">
        <h2 id="set">The set it came with</h2>
        <SetView siblings={siblings} />
      </section>
      <section aria-labelledby="sent">
        <h2 id="sent">What was sent, and what was made of it</h2>
        <SentView
          version={versions[0] ?? version}
          arrival={facts.arrival}
          bytes={facts.bytes}
          mapping={facts.mapping}
          zone={zone}
        />
      </section>
      <section aria-labelledby="past">
        <h2 id="past">Versions and decisions</h2>
        <VersionsView {...{ versions, decisions, zone }} />
      </section>
    </>
  );
}
