/** One submission: what arrived, byte for byte, what was answered, and what became of it. */
import type { ComponentChildren } from 'preact';
import { editionName } from '../../../vitals/answers.js';
import type { ArrivalFate } from '../../../store/arrivals.js';
import type { KeptUnreadRow, MessageFacts } from '../../../store/review-messages.js';
import type { ReviewReading } from '../../../store/review-readings.js';
import type { SubmissionFacts } from '../../../store/review-submissions.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { signText, valueText } from '../../pages/parts/value-text.js';
import type { InertText } from './inert-text.js';
import { answerText, kindText, refusalLines } from './outcome.js';

export interface ShownSubmission {
  readonly facts: SubmissionFacts;
  readonly fate: ArrivalFate | undefined;
  readonly message: MessageFacts;
  readonly readings: readonly ReviewReading[];
  readonly bytes: InertText;
  readonly answer: InertText;
  readonly zone: string;
}

function Fact({ name, children }: { name: string; children: ComponentChildren }) {
  return (
    <>
      <dt>{name}</dt>
      <dd>{children}</dd>
    </>
  );
}

function Facts({ facts, fate, message, zone }: ShownSubmission) {
  const { controlId = null, sentAtMs = null } = message.message ?? {};
  return (
    <dl class="facts">
      <Fact name="Received">
        <Moment atMs={facts.receivedMs} zone={zone} seconds />
      </Fact>
      <Fact name="What">{kindText(facts, fate)}</Fact>
      <Fact name="Source">
        {facts.source}
        {facts.client !== null && `, by the client ${facts.client}`}
      </Fact>
      <Fact name="Answered">{answerText(facts, fate)}</Fact>
      {controlId !== null && <Fact name="Control id">{controlId}</Fact>}
      {sentAtMs !== null && (
        <Fact name="Sent, by its own clock">
          <Moment atMs={sentAtMs} zone={zone} seconds />
        </Fact>
      )}
      {facts.setId !== null && <Fact name="Set">{facts.setId}</Fact>}
      <Fact name="Bytes">{`${facts.byteLength}, ${facts.contentType}`}</Fact>
      <Fact name="SHA-256">
        <code>{facts.sha256.toString('hex')}</code>
      </Fact>
      <Fact name="Edition">{editionName(facts.edition)}</Fact>
      {message.parts.length > 0 && (
        <Fact name="The same message brought">
          {message.parts.map((id, index) => (
            <span key={id}>
              {index > 0 && ', '}
              <a href={`/desk/submissions/${id}`}>another set</a>
            </span>
          ))}
        </Fact>
      )}
    </dl>
  );
}

function Readings({ readings }: { readings: readonly ReviewReading[] }) {
  return (
    <Table
      caption="Its readings as they stand now"
      columns={[
        {
          head: 'Reading',
          rowHead: true,
          cell: ({ version }: ReviewReading) => (
            <a href={`/desk/readings/${version.readingId}`}>
              {signText(version.vital)} {valueText(version) ?? 'no value'}
            </a>
          ),
        },
        { head: 'Stands as', cell: ({ version }) => <Mark>{version.verdict}</Mark> },
        {
          head: 'Rules that spoke',
          cell: ({ version }) => version.findings.map(({ rule }) => rule).join(', '),
        },
        { head: 'Published', cell: ({ version }) => version.status ?? 'no' },
      ]}
      rows={readings}
      keyOf={({ version }) => version.readingId}
      empty="No reading came of it."
    />
  );
}

function Unread({ rows, zone }: { rows: readonly KeptUnreadRow[]; zone: string }) {
  if (rows.length === 0) return null;
  return (
    <Table
      caption="Rows that brought no reading"
      columns={[
        { head: 'Where', rowHead: true, cell: ({ at }: KeptUnreadRow) => at },
        {
          head: 'Code',
          cell: ({ code }) =>
            [code.code, code.name, code.system === null ? null : `of ${code.system}`]
              .filter((text) => text !== null)
              .join(' '),
        },
        {
          head: 'Value as sent',
          cell: ({ value, unit }) => [value ?? '–', unit].filter((text) => text !== null).join(' '),
        },
        { head: 'Why', cell: ({ message }) => message },
        {
          head: 'Read since',
          cell: ({ readAtMs }) =>
            readAtMs === null ? 'no' : <Moment atMs={readAtMs} zone={zone} />,
        },
      ]}
      rows={rows}
      keyOf={({ at }) => at}
      empty=""
    />
  );
}

/** Text that came from elsewhere. It is escaped, scrolls by itself and does nothing. */
export function Inert({ label, shown }: { label: string; shown: InertText }) {
  return (
    <>
      {shown.kind === 'bytes' && <p class="hint">It is not UTF-8: shown byte by byte.</p>}
      <pre class="inert" tabIndex={0} role="region" aria-label={label}>
        {shown.text}
      </pre>
      {shown.isCut && <p class="hint">Only the beginning is shown here.</p>}
    </>
  );
}

export function SubmissionContent(shown: ShownSubmission) {
  const { facts, fate, readings, message, zone } = shown;
  const reasons = facts.status >= 400 && fate !== undefined ? refusalLines(fate.answer) : [];
  return (
    <>
      <Facts {...shown} />
      {reasons.length > 0 && (
        <>
          <h2>Why it was refused</h2>
          <ul>
            {reasons.map((line, index) => (
              <li key={index}>{line}</li>
            ))}
          </ul>
        </>
      )}
      <h2>What came of it</h2>
      <Readings readings={readings} />
      <Unread rows={message.unread} zone={zone} />
      <h2>What was sent</h2>
      <p>
        <a href={`/desk/submissions/${facts.submissionId}/bytes`}>The bytes as a file</a>
      </p>
      <Inert label="What was sent" shown={shown.bytes} />
      <h2>What was answered</h2>
      <Inert label="What was answered" shown={shown.answer} />
    </>
  );
}
