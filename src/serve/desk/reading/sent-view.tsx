/** What was sent, and what was read from which part of it. */
import type { ReadingVersion } from '../../../vitals/shapes.js';
import type { MappingThen } from '../../../store/source-mappings.js';
import type { SubmissionFacts } from '../../../store/review-submissions.js';
import { Moment, writeMoment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { signText, wordText } from '../../pages/parts/value-text.js';
import { readingValue } from '../../pages/parts/words.js';
import { picture, toInertText } from '../submissions/inert-text.js';
import { ReadByView } from './read-by-view.js';
import { readText, showText } from './show-bytes.js';
import { sentFormOf, traceReading } from './trace-reading.js';
import type { Trace } from './trace-reading.js';

interface SentFacts {
  readonly version: ReadingVersion;
  readonly arrival: SubmissionFacts | null;
  readonly bytes: Buffer | null;
  readonly mapping: MappingThen;
  readonly zone: string;
}

const FIELD_WORDS: Readonly<Record<string, string>> = {
  vital: 'sign',
  takenAt: 'taken at',
  absent: 'why not measured',
};

const MOST_QUOTED = 120;
/** Protocols that name signs by codes, which a source may have of its own. */
const SENT_IN_CODES = /hl7|fhir/i;

function enteredText({ entered }: ReadingVersion): string {
  if (entered === null) return '';
  return Object.entries(entered)
    .map(([name, value]) => `${name} ${String(value)}`)
    .join(', ');
}

/** What the gateway made of a field that was sent. */
function madeOf(field: string, version: ReadingVersion, zone: string): string {
  const { patient, encounter, recorder, location, device, takenAt, note } = version;
  switch (field) {
    case 'vital':
      return signText(version.vital);
    case 'value':
    case 'systolic':
    case 'diastolic':
    case 'mean':
    case 'unit':
    case 'count':
    case 'seconds':
    case 'code':
    case 'absent':
      return version.entered === null
        ? readingValue(version)
        : `${readingValue(version)} (from ${enteredText(version)})`;
    case 'takenAt':
      return writeMoment(takenAt.epochMs, zone, true);
    case 'patient':
      return `${patient.identifier.value} in ${patient.identifier.system}`;
    case 'encounter':
      return encounter?.value ?? '–';
    case 'recorder':
      return recorder?.value ?? '–';
    case 'location':
      return location ?? '–';
    case 'device':
      return device?.value ?? '–';
    case 'note':
      return note === null ? '–' : picture(note);
    case 'method':
    case 'site':
    case 'side':
    case 'position':
      return wordText(version[field] ?? '–');
    default:
      return '–';
  }
}

function quote(text: string, { stretch }: Trace): string {
  const sent = picture(text.slice(stretch.from, stretch.to));
  return sent.length > MOST_QUOTED ? `${sent.slice(0, MOST_QUOTED)}…` : sent;
}

function traceId(traces: readonly Trace[], trace: Trace): string {
  return `sent-${traces.indexOf(trace)}`;
}

function Fields({
  text,
  traces,
  version,
  zone,
}: {
  text: string;
  traces: readonly Trace[];
  version: ReadingVersion;
  zone: string;
}) {
  return (
    <Table
      caption="Each part that was read, where it stands below, and what was made of it"
      columns={[
        {
          head: 'What',
          rowHead: true,
          cell: ({ field }) => FIELD_WORDS[field] ?? wordText(field),
        },
        { head: 'As sent', cell: (trace) => <code>{quote(text, trace)}</code> },
        {
          head: 'Where',
          cell: (trace) => <a href={`#${traceId(traces, trace)}`}>{trace.place}</a>,
        },
        { head: 'Made of it', cell: ({ field }) => madeOf(field, version, zone) },
      ]}
      rows={traces}
      keyOf={(trace) => traceId(traces, trace)}
      empty="This reading cannot be led back to single parts of what was sent."
    />
  );
}

function LeftOut({ count, where }: { count: number; where: string }) {
  if (count === 0) return null;
  return (
    <p class="soft">
      {count} characters {where} are not shown.
    </p>
  );
}

function AsText({ text, traces }: { text: string; traces: readonly Trace[] }) {
  const { pieces, before, after } = showText(text, traces);
  return (
    <>
      <LeftOut count={before} where="before this" />
      <pre class="sent" tabIndex={0} role="region" aria-label="What was sent, as text">
        {pieces.map((piece, index) =>
          piece.trace === null ? (
            piece.text
          ) : (
            <mark
              key={index}
              id={traceId(traces, piece.trace)}
              title={FIELD_WORDS[piece.trace.field] ?? piece.trace.field}
            >
              {piece.text}
            </mark>
          ),
        )}
      </pre>
      <LeftOut count={after} where="after this" />
    </>
  );
}

function AsBytes({ bytes }: { bytes: Buffer }) {
  const { text, isCut } = toInertText(bytes);
  return (
    <>
      <p>These bytes are no text: each is shown by its number, sixteen a row.</p>
      <pre class="sent" tabIndex={0} role="region" aria-label="What was sent, in hexadecimal">
        {text}
      </pre>
      {isCut && <p class="soft">What follows is not shown here.</p>}
    </>
  );
}

/** The bytes of a message that is no UTF-8: HL7 v2 may name other character sets, which all have ASCII. */
function textOf(bytes: Buffer, contentType: string): string | null {
  const text = readText(bytes);
  if (text !== null || sentFormOf(contentType) !== 'hl7v2') return text;
  return bytes.toString('latin1');
}

export function SentView({ version, arrival, bytes, mapping, zone }: SentFacts) {
  if (arrival === null || bytes === null) return <p>What was sent is not kept any more.</p>;
  const { contentType, byteLength, source, client, receivedMs } = arrival;
  const text = textOf(bytes, contentType);
  const traces = text === null ? [] : traceReading(text, sentFormOf(contentType), version);
  return (
    <>
      <p>
        {byteLength} bytes of {contentType} from {source}
        {client !== null && client !== source && ` (${client})`}, received{' '}
        <Moment atMs={receivedMs} zone={zone} seconds />. SHA-256{' '}
        <code>{arrival.sha256.toString('hex').slice(0, 16)}…</code>{' '}
        <a href={`/desk/submissions/${arrival.submissionId}`}>
          All that arrived, and what was answered
        </a>
      </p>
      {SENT_IN_CODES.test(contentType) && <ReadByView {...{ mapping, source, zone }} />}
      {text !== null && <Fields {...{ text, traces, version, zone }} />}
      {text === null ? <AsBytes bytes={bytes} /> : <AsText text={text} traces={traces} />}
    </>
  );
}
