/** Submissions that were refused whole, as a table. */
import type { ArrivalFate } from '../../../store/arrivals.js';
import type { SubmissionFacts } from '../../../store/review-submissions.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { answerText, broughtText, kindText, refusalLines } from '../submissions/outcome.js';
import { STATUS_WORDS } from './search-form.js';

/** A submission and what became of it. */
export interface Refusal {
  readonly facts: SubmissionFacts;
  readonly fate: ArrivalFate | undefined;
}

function Why({ facts, fate }: Refusal) {
  const lines = fate === undefined ? [] : refusalLines(fate.answer);
  const brought = fate === undefined ? '' : broughtText(fate);
  return (
    <>
      {lines.length === 0 && <p>{STATUS_WORDS[facts.status] ?? 'refused'}</p>}
      {lines.map((line, index) => (
        <p key={index}>{line}</p>
      ))}
      {brought !== '' && <p>{brought}</p>}
    </>
  );
}

export function SubmissionsList(list: {
  refusals: readonly Refusal[];
  zone: string;
  caption: string;
}) {
  return (
    <Table
      caption={list.caption}
      columns={[
        {
          head: 'Received',
          rowHead: true,
          cell: ({ facts }: Refusal) => (
            <a href={`/desk/submissions/${facts.submissionId}`}>
              <Moment atMs={facts.receivedMs} zone={list.zone} seconds />
            </a>
          ),
        },
        { head: 'What', cell: ({ facts, fate }) => kindText(facts, fate) },
        { head: 'Answered', cell: ({ facts, fate }) => answerText(facts, fate) },
        { head: 'Why', cell: (refusal) => <Why {...refusal} /> },
        { head: 'Source', cell: ({ facts }) => facts.source },
        { head: 'Bytes', numeric: true, cell: ({ facts }) => facts.byteLength },
      ]}
      rows={list.refusals}
      keyOf={({ facts }) => facts.submissionId}
      empty="No refused submission is like this."
    />
  );
}
