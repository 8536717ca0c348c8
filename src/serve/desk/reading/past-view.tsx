import type { KeptDecision } from '../../../store/review-history.js';
import type { ReviewReading } from '../../../store/review-readings.js';
import type { ReadingVersion } from '../../../vitals/shapes.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { signText } from '../../pages/parts/value-text.js';
import { readingValue } from '../../pages/parts/words.js';
import { DecisionSentence } from '../decide/overtaken.js';
import { measuredBy } from './draw-history.js';

/** What arrived in the same set. */
export function SetView({ siblings }: { siblings: readonly ReviewReading[] }) {
  return (
    <Table
      caption="The other readings that came with it"
      columns={[
        {
          head: 'Reading',
          rowHead: true,
          cell: ({ version }) => (
            <a href={`/desk/readings/${version.readingId}`}>
              {signText(version.vital)} {readingValue(version)}
            </a>
          ),
        },
        { head: 'Measured by', cell: ({ version }) => measuredBy(version) },
        { head: 'Verdict', cell: ({ version }) => version.verdict },
        { head: 'Out as', cell: ({ version }) => version.status ?? 'not out' },
      ]}
      rows={siblings}
      keyOf={({ version }) => version.readingId}
      empty="It came alone."
    />
  );
}

interface VersionsFacts {
  readonly versions: readonly ReadingVersion[];
  readonly decisions: readonly KeptDecision[];
  readonly zone: string;
}

/** How it came to be what it is. */
export function VersionsView({ versions, decisions, zone }: VersionsFacts) {
  return (
    <>
      <Table
        caption="Versions, oldest first"
        columns={[
          { head: 'Version', numeric: true, rowHead: true, cell: ({ version }) => version },
          { head: 'Made', cell: ({ stampMs }) => <Moment atMs={stampMs} zone={zone} seconds /> },
          { head: 'Value', cell: readingValue },
          { head: 'Verdict', cell: ({ verdict }) => verdict },
          { head: 'Out as', cell: ({ status }) => status ?? 'not out' },
          { head: 'Patient', cell: ({ patient }) => patient.identifier.value },
          { head: 'Edition', numeric: true, cell: ({ edition }) => edition },
        ]}
        rows={versions}
        keyOf={({ version }) => String(version)}
        empty=""
      />
      {decisions.length === 0 ? (
        <p>Nobody has decided about it.</p>
      ) : (
        <ol class="decisions">
          {decisions.map((decision) => (
            <li key={decision.toVersion}>
              <DecisionSentence decision={decision} zone={zone} />
              {decision.newReadingId !== null && (
                <>
                  {' '}
                  <a href={`/desk/readings/${decision.newReadingId}`}>
                    Published anew under the right patient
                  </a>
                </>
              )}
            </li>
          ))}
        </ol>
      )}
    </>
  );
}
