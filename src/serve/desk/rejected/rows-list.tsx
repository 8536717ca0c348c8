/** Rows of messages that brought no reading, as a table. */
import type { ListedUnreadRow } from '../../../store/unread-rows.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import type { Column } from '../../pages/parts/table.js';
import { UNREAD_WORDS } from './search-form.js';

function Coded({ code, codeSystem, codeName }: ListedUnreadRow) {
  return (
    <>
      {code === null ? 'no code' : <code>{code}</code>}
      {codeName !== null && ` ${codeName}`}
      {codeSystem !== null && (
        <>
          <br />
          of {codeSystem}
        </>
      )}
    </>
  );
}

function columnsFor(zone: string, hasMarks: boolean): Column<ListedUnreadRow>[] {
  const mark: Column<ListedUnreadRow> = {
    head: 'Again',
    cell: ({ submissionId, at, reason }) =>
      isWorthAnother({ reason }) && (
        <input
          type="checkbox"
          name="submission"
          value={submissionId}
          form="again"
          aria-label={`Read the message of ${at} again`}
        />
      ),
  };
  return [
    ...(hasMarks ? [mark] : []),
    {
      head: 'Received',
      rowHead: true,
      cell: ({ submissionId, receivedMs }) => (
        <a href={`/desk/submissions/${submissionId}`}>
          <Moment atMs={receivedMs} zone={zone} seconds />
        </a>
      ),
    },
    { head: 'Where', cell: ({ at }) => at },
    { head: 'Code', cell: (row) => <Coded {...row} /> },
    {
      head: 'Value as sent',
      cell: ({ value, unit }) => [value ?? '–', unit].filter((text) => text !== null).join(' '),
    },
    {
      head: 'Why',
      cell: ({ reason, message }) => (
        <>
          {UNREAD_WORDS[reason]}
          <br />
          {message}
        </>
      ),
    },
    { head: 'Source', cell: ({ source }) => source },
  ];
}

/** A new mapping may read it. */
export function isWorthAnother({ reason }: Pick<ListedUnreadRow, 'reason'>): boolean {
  return reason === 'code-unmapped';
}

export function RowsList(list: {
  rows: readonly ListedUnreadRow[];
  zone: string;
  hasMarks: boolean;
  caption: string;
}) {
  return (
    <Table
      caption={list.caption}
      columns={columnsFor(list.zone, list.hasMarks)}
      rows={list.rows}
      keyOf={({ submissionId, place }) => `${submissionId}-${place}`}
      empty="No unread row is like this."
    />
  );
}
