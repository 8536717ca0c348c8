import type { ReadingVersion } from '../../../vitals/shapes.js';
import { Mark } from '../../pages/parts/mark.js';
import { Moment } from '../../pages/parts/moment.js';
import { Table } from '../../pages/parts/table.js';
import { interpretationText, readingValue } from '../../pages/parts/words.js';
import { measuredBy, seriesOf } from './draw-history.js';

interface HistoryFacts {
  readonly reading: ReadingVersion;
  readonly history: readonly ReadingVersion[];
  /** SVG text of our own making; null: there is nothing to draw. */
  readonly chart: string | null;
  readonly zone: string;
}

const SHOWN_AT_ONCE = 8;

const SHAPES: Readonly<Record<string, string>> = {
  circle: '●',
  square: '■',
  triangle: '▲',
  diamond: '◆',
  star: '★',
};

function Legend({ history }: Pick<HistoryFacts, 'history'>) {
  return (
    <ul class="legend">
      {seriesOf(history).map(({ name, symbol, className }) => (
        <li key={name}>
          <span class={`chart ${className} shape`} aria-hidden="true">
            {SHAPES[symbol]}
          </span>{' '}
          {name}
        </li>
      ))}
      <li>The dashed line and the ring mark this reading.</li>
    </ul>
  );
}

function Readings({
  reading,
  zone,
  rows,
  caption,
}: Pick<HistoryFacts, 'reading' | 'zone'> & {
  rows: readonly ReadingVersion[];
  caption: string;
}) {
  return (
    <Table
      caption={caption}
      columns={[
        { head: 'Taken', cell: (one) => <Moment atMs={one.takenAt.epochMs} zone={zone} /> },
        {
          head: 'Value',
          rowHead: true,
          cell: (one) =>
            one.readingId === reading.readingId ? (
              <>
                {readingValue(one)} <Mark>This one</Mark>
              </>
            ) : (
              <a href={`/desk/readings/${one.readingId}`}>{readingValue(one)}</a>
            ),
        },
        { head: 'Measured by', cell: measuredBy },
        { head: 'Is', cell: (one) => interpretationText(one) || '–' },
        { head: 'Verdict', cell: ({ verdict }) => verdict },
        { head: 'Out as', cell: ({ status }) => status ?? 'not out' },
      ]}
      rows={rows}
      keyOf={({ readingId }) => readingId}
      empty="There is no other reading of this sign."
    />
  );
}

/** The patient's readings of the sign in the days about this one. */
export function HistoryView({ reading, history, chart, zone }: HistoryFacts) {
  const newestFirst = [...history].reverse();
  const [first, rest] = [newestFirst.slice(0, SHOWN_AT_ONCE), newestFirst.slice(SHOWN_AT_ONCE)];
  return (
    <>
      {chart !== null && (
        <figure>
          <div dangerouslySetInnerHTML={{ __html: chart }} />
          <figcaption>
            <Legend history={history} />
          </figcaption>
        </figure>
      )}
      <Readings
        {...{ reading, zone }}
        rows={first}
        caption="From a week before to a day after, newest first"
      />
      {rest.length > 0 && (
        <details>
          <summary>{rest.length} older ones</summary>
          <Readings {...{ reading, zone }} rows={rest} caption="The older ones, newest first" />
        </details>
      )}
    </>
  );
}
