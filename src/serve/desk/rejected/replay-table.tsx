/** What comes of messages that are read again, reading by reading. */
import type { ReplayedReading } from '../../../store/replay-set.js';
import type { Part } from '../../../vitals/words.js';
import { Mark } from '../../pages/parts/mark.js';
import { Table } from '../../pages/parts/table.js';
import { signText, valueText } from '../../pages/parts/value-text.js';

export interface ReplayedMessage {
  readonly submissionId: string;
  readonly readings: readonly ReplayedReading[];
}

type Row = ReplayedReading & { readonly submissionId: string };

function numbersOf({ values }: ReplayedReading): Partial<Record<Part, string>> {
  return Object.fromEntries(Object.entries(values).map(([part, { text }]) => [part, text]));
}

function What(row: Row) {
  const facts = {
    vital: row.vital,
    values: numbersOf(row),
    code: null,
    absent: null,
    entered: null,
  };
  return (
    <>
      {signText(row.vital)} {valueText(facts) ?? ''}
    </>
  );
}

export function ReplayTable(facts: {
  caption: string;
  messages: readonly ReplayedMessage[];
  /** The readings are there now and have a page of their own. */
  isDone: boolean;
}) {
  const rows = facts.messages.flatMap(({ submissionId, readings }) =>
    readings.map((reading) => ({ ...reading, submissionId })),
  );
  return (
    <Table
      caption={facts.caption}
      columns={[
        {
          head: 'Reading',
          rowHead: true,
          cell: (row: Row) =>
            facts.isDone || !row.isNew ? (
              <a href={`/desk/readings/${row.readingId}`}>
                <What {...row} />
              </a>
            ) : (
              <What {...row} />
            ),
        },
        { head: 'Was', cell: ({ isNew }) => (isNew ? 'not read' : 'rejected') },
        {
          head: facts.isDone ? 'Is' : 'Would be',
          cell: ({ verdict }) => <Mark>{verdict}</Mark>,
        },
        { head: 'Rules that spoke', cell: ({ rules }) => rules.join(', ') },
        {
          head: facts.isDone ? 'Published' : 'Would be published',
          cell: ({ published }) => (published ? 'yes' : 'no'),
        },
        {
          head: 'Message',
          cell: ({ submissionId }) => <a href={`/desk/submissions/${submissionId}`}>bytes</a>,
        },
      ]}
      rows={rows}
      keyOf={({ readingId }) => readingId}
      empty="Nothing is read otherwise than before."
    />
  );
}
