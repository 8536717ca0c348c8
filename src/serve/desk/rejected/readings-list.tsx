/** Rejected readings as a table. */
import type { ReviewReading } from '../../../store/review-readings.js';
import type { Finding } from '../../../vitals/shapes.js';
import { Moment, writeMoment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import type { Column } from '../../pages/parts/table.js';
import { enteredText, signText, valueText, wordText } from '../../pages/parts/value-text.js';

/** What was measured and what was sent, or where to look it up. */
function Measured({ version }: Pick<ReviewReading, 'version'>) {
  const value = valueText(version);
  const sent = enteredText(version.entered) ?? version.report?.asSent;
  return (
    <>
      {signText(version.vital)}
      {version.method !== null && `, ${wordText(version.method)}`}
      <br />
      <strong>{value ?? sent ?? 'no value that could be read'}</strong>
      {value !== null && sent !== undefined && ` (sent as ${sent})`}
    </>
  );
}

/** The findings that rejected it; where a person did, those that stood before. */
export function reasonsOf(findings: readonly Finding[]): readonly Finding[] {
  const rejecting = findings.filter(({ verdict }) => verdict === 'rejected');
  return rejecting.length > 0 ? rejecting : findings;
}

function Why({ version, decided }: Pick<ReviewReading, 'version' | 'decided'>) {
  const reasons = reasonsOf(version.findings);
  return (
    <>
      {decided && <p>A person decided.</p>}
      {reasons.map(({ rule, message }) => (
        <p key={rule}>
          <code>{rule}</code> {message}
        </p>
      ))}
    </>
  );
}

function Whose({ version, registered }: Pick<ReviewReading, 'version' | 'registered'>) {
  const { value, system } = version.patient.identifier;
  return (
    <>
      <span title={system}>{value}</span>
      {registered === null && (
        <>
          <br />
          not registered
        </>
      )}
    </>
  );
}

function From({ version }: Pick<ReviewReading, 'version'>) {
  const { source, device, location } = version;
  return (
    <>
      {source}
      {device !== null && (
        <>
          <br />
          <span title={device.system}>{device.value}</span>
        </>
      )}
      {location !== null && (
        <>
          <br />
          {location}
        </>
      )}
    </>
  );
}

function When({ version, zone }: Pick<ReviewReading, 'version'> & { zone: string }) {
  return (
    <>
      <a href={`/desk/readings/${version.readingId}`}>
        <Moment atMs={version.stampMs} zone={zone} />
      </a>
      <br />
      <small>
        taken <Moment atMs={version.takenAt.epochMs} zone={zone} />
        <br />
        <a href={`/desk/submissions/${version.submissionId}`}>what was sent</a>
      </small>
    </>
  );
}

function columnsFor(zone: string, hasMarks: boolean): Column<ReviewReading>[] {
  const mark: Column<ReviewReading> = {
    head: 'Again',
    cell: ({ version }) =>
      isFromMessage(version) && (
        <input
          type="checkbox"
          name="submission"
          value={version.submissionId}
          form="again"
          aria-label={`Read the message again that brought ${signText(version.vital)} of ${writeMoment(version.takenAt.epochMs, zone)}`}
        />
      ),
  };
  return [
    ...(hasMarks ? [mark] : []),
    {
      head: 'Rejected',
      rowHead: true,
      cell: ({ version }) => <When {...{ version, zone }} />,
    },
    { head: 'What', cell: (reading) => <Measured {...reading} /> },
    { head: 'Why', cell: (reading) => <Why {...reading} /> },
    { head: 'Patient', cell: (reading) => <Whose {...reading} /> },
    { head: 'From', cell: (reading) => <From {...reading} /> },
  ];
}

/** Only messages are read again: a set says by itself what it means. */
export function isFromMessage({ report }: ReviewReading['version']): boolean {
  return report !== undefined;
}

export function ReadingsList(facts: {
  readings: readonly ReviewReading[];
  zone: string;
  /** Some may be marked to be read again. */
  hasMarks: boolean;
  caption: string;
}) {
  return (
    <Table
      caption={facts.caption}
      columns={columnsFor(facts.zone, facts.hasMarks)}
      rows={facts.readings}
      keyOf={({ version }) => version.readingId}
      empty="No rejected reading is like this."
    />
  );
}
