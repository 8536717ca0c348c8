/** What came of a trial, in sentences and tables. */
import type { TrialLine, TrialReport } from '../../../vitals/trial-report.js';
import { Mark } from '../../pages/parts/mark.js';
import { countText, writeNumber } from '../../pages/parts/count-text.js';
import { Table } from '../../pages/parts/table.js';

function share(part: number, all: number): string {
  if (all === 0) return '0 %';
  const percent = (100 * part) / all;
  return percent > 0 && percent < 0.05 ? 'less than 0.1 %' : `${percent.toFixed(1)} %`;
}

function Sentences({ report }: { report: TrialReport }) {
  const { sets, readings, changed, unreadable } = report;
  const { otherPublication, otherInterpretation, otherReleases } = report;
  return (
    <ul>
      <li>
        {`Of ${countText(sets, 'set')} with ${countText(readings, 'reading')}, `}
        <strong>{countText(changed, 'reading')}</strong>
        {` (${share(changed, readings)}) would have got another verdict.`}
      </li>
      <li>
        {otherPublication === 0
          ? 'Nothing would have been published, or kept back, otherwise than it was.'
          : `${countText(otherPublication, 'reading')} would have been published at once and were not, or the other way round.`}
      </li>
      {otherInterpretation > 0 && (
        <li>{`${countText(otherInterpretation, 'reading')} would have got another interpretation (LL to HH).`}</li>
      )}
      {otherReleases > 0 && (
        <li>{`${countText(otherReleases, 'held reading')} of earlier sets would have been released by a repeat and were not, or the other way round.`}</li>
      )}
      {unreadable > 0 && (
        <li>{`${countText(unreadable, 'set')} could not be judged: the contract would no longer take them as they came.`}</li>
      )}
    </ul>
  );
}

function Examples({ examples }: Pick<TrialLine, 'examples'>) {
  return (
    <>
      {examples.map((id, index) => (
        <span key={id}>
          {index > 0 && ', '}
          <a href={`/desk/readings/${id}`}>
            {index + 1}
            <span class="unseen">. example</span>
          </a>
        </span>
      ))}
    </>
  );
}

export function Report({ report }: { report: TrialReport }) {
  return (
    <>
      <Sentences report={report} />
      <Table
        caption="Verdicts that would be others"
        columns={[
          {
            head: 'From',
            rowHead: true,
            cell: ({ from }: TrialReport['byDirection'][number]) => <Mark>{from}</Mark>,
          },
          { head: 'To', cell: ({ to }) => <Mark>{to}</Mark> },
          { head: 'Readings', numeric: true, cell: ({ readings }) => writeNumber(readings) },
        ]}
        rows={report.byDirection}
        keyOf={({ from, to }) => `${from}-${to}`}
        empty="No verdict would be another."
      />
      <Table
        caption="By rule and ward; a reading stands with each rule that says something else of it"
        columns={[
          { head: 'Rule', rowHead: true, cell: ({ rule }: TrialLine) => <code>{rule}</code> },
          { head: 'From', cell: ({ from }) => from },
          { head: 'To', cell: ({ to }) => to },
          { head: 'Ward', cell: ({ ward }) => ward ?? 'none named' },
          { head: 'Readings', numeric: true, cell: ({ readings }) => writeNumber(readings) },
          { head: 'Examples', cell: ({ examples }) => <Examples examples={examples} /> },
        ]}
        rows={report.byRule}
        keyOf={({ rule, from, to, ward }) => `${rule}-${from}-${to}-${ward ?? ''}`}
        empty="No rule says anything else."
      />
    </>
  );
}
