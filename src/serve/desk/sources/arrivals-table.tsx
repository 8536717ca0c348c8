/** What arrived of a source lately, and what became of it. */
import type { ArrivalFate } from '../../../store/arrivals.js';
import type { SubmissionFacts } from '../../../store/review-submissions.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { answerText, broughtText, kindText, refusalLines } from '../submissions/outcome.js';

export interface Arrival {
  readonly facts: SubmissionFacts;
  readonly fate: ArrivalFate | undefined;
}

function Outcome({ facts, fate, mayRead }: Arrival & { mayRead: boolean }) {
  const brought = fate === undefined ? '' : broughtText(fate);
  const lines =
    facts.status < 400 || fate === undefined || !mayRead ? [] : refusalLines(fate.answer);
  return (
    <>
      {brought === '' ? 'nothing came of it' : brought}
      {lines.map((line, index) => (
        <p key={index}>{line}</p>
      ))}
    </>
  );
}

/** @param mayRead whether the person may see what was sent: it names patients */
export function ArrivalsTable(facts: {
  arrivals: readonly Arrival[];
  zone: string;
  mayRead: boolean;
  caption: string;
}) {
  const { zone, mayRead } = facts;
  return (
    <Table
      caption={facts.caption}
      columns={[
        {
          head: 'Received',
          rowHead: true,
          cell: ({ facts: { submissionId, receivedMs } }: Arrival) => {
            const time = <Moment atMs={receivedMs} zone={zone} seconds />;
            return mayRead ? <a href={`/desk/submissions/${submissionId}`}>{time}</a> : time;
          },
        },
        { head: 'What', cell: ({ facts: one, fate }) => kindText(one, fate) },
        {
          head: 'Answered',
          cell: ({ facts: one, fate }) => (
            <Mark tone={one.status >= 400 ? 'urgent' : 'plain'}>{answerText(one, fate)}</Mark>
          ),
        },
        { head: 'What came of it', cell: (arrival) => <Outcome {...{ ...arrival, mayRead }} /> },
        { head: 'Control id', cell: ({ fate }) => fate?.message?.controlId ?? '–' },
        { head: 'Bytes', numeric: true, cell: ({ facts: one }) => one.byteLength },
      ]}
      rows={facts.arrivals}
      keyOf={({ facts: { submissionId } }) => submissionId}
      empty="Nothing arrived in this time."
    />
  );
}
